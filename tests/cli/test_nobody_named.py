"""What is said of a site names nobody, whatever log, lists and texts call them.

``events`` is left out: it gives the log itself to whom it belongs. So are the columns by which
findings and episodes are joined to it: where a log knows a user by name only, that is the key.
"""

import csv
import io
import json
from datetime import date, timedelta

import pytest

KEYS = {"subject", "armed_by", "disarmed_by"}
NAMES = ("Ragnhild Moe", "Torvald Lie", "Bodil Aune")
FIRST = date(2025, 1, 6)


def log():
    """Seventy nights: late entries, a wrong code, a bypass that lasts, alarms in the night."""
    rows = ["Date/Time,Event,Zone,User"]
    for n in range(70):
        eve, morning = FIRST + timedelta(days=n), FIRST + timedelta(days=n + 1)
        who, next_who = NAMES[n % 2], NAMES[(n + 1) % 2]
        rows.append(f"{eve} 18:00:00,Armed by {who},,{who}")
        if n % 8 == 0:
            rows.append(f"{eve} 18:01:00,Intruder alarm {who},1,")
        if n % 9 == 3:
            rows += [f"{eve} 23:{m:02}:00,Intruder alarm,5," for m in (10, 12, 15, 19)]
        if n % 5 == 0:
            rows.append(f"{morning} 07:59:00,Entry alarm,1,")
        if n % 11 == 0:
            rows.append(f"{morning} 07:59:30,Wrong code {next_who},,{next_who}")
        rows.append(f"{morning} 08:00:00,Disarmed by {next_who},,{next_who}")
    rows.append(f"{FIRST + timedelta(days=40)} 12:00:00,Zone bypassed by {NAMES[0]},3,{NAMES[0]}")
    return "\n".join(rows) + "\n"


FILES = {
    "log.csv": log(),
    "sites.csv": "site,name,time_zone\nA,North branch,Europe/London\n",
    "zones.csv": "site,zone,name,use\nA,1,Door,entry\nA,3,Window,perimeter\nA,5,Room,interior\n",
    "users.csv": f"site,user,name,since\nA,1,{NAMES[0]},2025-01-01\nA,9,{NAMES[2]},2025-01-01\n",
    "visits.csv": f"site,at,zones,work,technician\nA,2025-02-10 11:00,5,new lens,{NAMES[2]}\n",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("named")
    for name, text in FILES.items():
        (made / name).write_text(text, encoding="utf-8")
    return made


def test_nobody_is_named(run, folder, tmp_path):
    store = tmp_path / "s"
    taken = run("intake", folder, "--store", store, "--site", "A")
    assert taken.status == 0, taken.err + taken.out
    asked = [
        *(("findings", "--format", form) for form in ("text", "csv", "json")),
        *(("episodes", "--format", form) for form in ("text", "csv", "json")),
        *(("alive", "A", "--format", form) for form in ("text", "csv", "json")),
        *(("alive", "--fleet", of) for of in ("cells", "devices", "wear")),
        ("proof", "A"),
        ("proof", "A", "--format", "json"),
        ("whatif", "A", "--zone", "5"),
    ]
    told = {words: run(*words, "--store", store) for words in asked}
    assert not [words for words, done in told.items() if done.status]
    assert "entry-overrun" in told["findings", "--format", "json"].out
    for words, done in told.items():
        said = spoken(done.out, words[-1])
        assert said
        assert not [part for part in " ".join(NAMES).split() if part in said], words


def spoken(text, form):
    """All that is said, without the keys."""
    if form == "csv":
        rows = list(csv.DictReader(io.StringIO(text)))
    elif form == "json":
        rows = json.loads(text)
    else:
        return text
    return json.dumps([{k: v for k, v in row.items() if k not in KEYS} for row in rows])
