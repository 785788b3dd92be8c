"""Listings of one ``key: value`` per line, a record being a block of such lines."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import polars as pl

from eventlab.intake.ending import CUT, proved
from eventlab.intake.lines import Ints, Line, Lines, texts_of
from eventlab.intake.reader import from_rows, number
from eventlab.intake.table import BROKEN, Table

_KEYED = re.compile(
    r"[ \t]*([^\W\d_][^:=\t]{0,39}?)(?:[ \t]*\.{2,})?"  # the key, dots to the value
    r"[ \t]*(?:(?<!\d):|:(?!\d\d)|=)[ \t]*(.*)"  # no colon of a clock
)
_DIGITS = re.compile(r"\d+")
_SHARE = 0.7  # of the lines that are not blank
_REGULAR = 0.8  # share of records that name each key once
_KEYS = 60  # more keys than this are no keys
_LOOK = 4000  # lines that the decision rests on
_HEAD = 1 << 20  # bytes of a long text that may show that it is none
_DIVIDED = 0.9  # share of records with a blank line above, where blank lines divide them
ENDS = "the file ends within this record"


@dataclass(slots=True)
class _Record:
    first: int
    last: int
    values: dict[str, str] = field(default_factory=dict)
    problem: str = ""


def read_keyed(lines: Lines) -> Table | None:
    """Read a listing of keys and values.

    Parameters
    ----------
    lines : Lines
        The text, in which no delimiter was found.

    Returns
    -------
    Table or None
        One row for each record, at its first line; None where the text is no such listing.
    """
    head = lines.flat[: lines.flat.find(b"\n", _HEAD) + 1] if len(lines.flat) > _HEAD else b""
    if head and _first_key(texts_of(head)[:_LOOK]) is None:
        return None
    texts = texts_of(lines.flat)
    first = _first_key(texts[:_LOOK])
    if first is None:
        return None
    records, above, below = _records(texts, first, divided=_divided(texts, first))
    if not _regular(records):
        return None
    keys = list(dict.fromkeys(key for one in records for key in one.values))
    table = _table(records, keys)
    _doubt_last(table, records, lines, texts)
    return replace(
        table,
        preamble=tuple(Line(n + 1, texts[n]) for n in above),
        footer=tuple(Line(n + 1, texts[n]) for n in below),
        other=lines.count - len(records),
        evidence=(
            f"Records begin with “{first}:”: {len(keys)} keys in {len(records)} records.",
            *table.evidence,
        ),
    )


def _split(text: str) -> tuple[str, str] | None:
    found = _KEYED.fullmatch(text)
    return (found.group(1).strip(), found.group(2).strip()) if found else None


def _first_key(texts: Sequence[str]) -> str | None:
    """Give the key that begins each record: the first of those that come most often."""
    filled = [text for text in texts if text.strip()]
    keys = [found[0] for text in filled if (found := _split(text))]
    counted = Counter(keys)
    if len(keys) < _SHARE * len(filled) or not 1 < len(counted) <= _KEYS:
        return None
    most = counted.most_common(1)[0][1]
    if most < 2:
        return None
    return next(key for key in keys if counted[key] * 10 >= most * 9)


def _divided(texts: Sequence[str], first: str) -> bool:
    at = [
        n for n, text in enumerate(texts[:_LOOK]) if (found := _split(text)) and found[0] == first
    ]
    blank = sum(1 for n in at if n == 0 or not texts[n - 1].strip())
    return blank >= _DIVIDED * len(at)


def _records(
    texts: Sequence[str], first: str, *, divided: bool
) -> tuple[list[_Record], list[int], list[int]]:
    """Cut into records; also the lines above and below that say something."""
    records: list[_Record] = []
    above: list[int] = []
    loose: list[int] = []  # lines without a key since the last line with one
    last_key = ""
    blank = True
    masks = Counter(_mask(text) for text in texts if text.strip() and not _split(text))
    for n, text in enumerate(texts):
        if not text.strip():
            blank = True
            continue
        found = _split(text)
        if found is None:
            if not records:
                above.append(n)
            elif text[:1].isspace() or masks[_mask(text)] < 2:
                loose.append(n)
            continue
        key, value = found
        begins = key == first or (records and (key in records[-1].values or (blank and divided)))
        if not records and not begins:
            above.append(n)
            continue
        if records:
            _join_in(records[-1], loose, texts, last_key)
        loose = []
        if begins:
            records.append(_Record(n, n))
        records[-1].values[key] = value
        records[-1].last = n
        last_key, blank = key, False
    below = []
    if records and loose and not texts[loose[0]][:1].isspace():
        below = loose
    elif records:
        _join_in(records[-1], loose, texts, last_key)
    return records, above, below


def _join_in(record: _Record, loose: Sequence[int], texts: Sequence[str], key: str) -> None:
    """Add lines without a key to the value above where they are indented; else say so."""
    for n in loose:
        record.last = n
        if texts[n][:1].isspace():
            record.values[key] += "\n" + texts[n].strip()
        else:
            record.problem = f"line {n + 1} of this record names no key"


def _mask(text: str) -> str:
    return _DIGITS.sub("9", text.strip())


def _regular(records: Sequence[_Record]) -> bool:
    """Tell whether most records have several keys, in the order of the others."""
    if len(records) < 2:
        return False
    order = {key: n for n, key in enumerate(dict.fromkeys(k for r in records for k in r.values))}
    firsts = Counter(next(iter(one.values)) for one in records)
    good = 0
    for one in records:
        places = [order[key] for key in one.values]
        good += len(places) > 1 and places == sorted(places)
    return good >= _REGULAR * len(records) and firsts.most_common(1)[0][1] >= _REGULAR * len(
        records
    )


def _table(records: Sequence[_Record], keys: list[str]) -> Table:
    good = [one for one in records if not one.problem]
    cells = from_rows(([one.values.get(key, "") for key in keys] for one in good), len(keys))
    bad = [(one.first + 1, "", one.problem) for one in records if one.problem]
    said = (f"Records with lines that name no key: {len(bad)}.",) if bad else ()
    return Table(
        cells=number(cells, _ints([one.first for one in good])),
        broken=pl.DataFrame(bad, schema=BROKEN, orient="row"),
        header=tuple(keys),
        ends={one.first: one.last for one in records},
        evidence=said,
    )


def _ints(numbers: list[int]) -> Ints:
    import numpy as np

    return np.array(numbers, np.int64)


def _doubt_last(
    table: Table, records: Sequence[_Record], lines: Lines, texts: Sequence[str]
) -> None:
    """Take the last record for unread where the file may be cut within it."""
    last, others = records[-1], records[:-1]
    order = list(table.header or ())
    finals = [order.index(next(reversed(one.values))) for one in others]
    key = next(reversed(last.values))
    problem = ""
    if last.last + 1 == lines.count and not lines.finished:
        column = order.index(key)
        rest = table.cells.filter(pl.col("row") != last.first + 1)[f"c{column}"]
        problem = "" if proved(last.values[key] or None, rest) else CUT
    if not problem and last.last + 1 == len(texts) and order.index(key) < max(finals, default=0):
        problem = ENDS
    if problem and not last.problem:
        table.cells = table.cells.filter(pl.col("row") != last.first + 1)
        one = pl.DataFrame([(last.first + 1, "", problem)], schema=BROKEN, orient="row")
        table.broken = pl.concat([table.broken, one])
    raws = [lines.text(row - 1, table.ends.get(row - 1)) for row in table.broken["row"]]
    table.broken = table.broken.with_columns(raw=pl.Series(raws, dtype=pl.String))
