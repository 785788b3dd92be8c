"""Files as no one would write them: samples and small listings, changed at random by a seed."""

import gzip
import io
import random
import zipfile
from functools import cache

from tests.fuzz.reading import SAMPLES
from tests.intake.corpus import SAMPLES as CORPUS

ENDS = (b"\n", b"\r\n", b"\r")
SIGNS = b",;\t|^~\"':=-+_ ./\\\x00\x1a\x1f\xef\xbb\xbf\xff\xfe\xe9\xc3\xa9\x80\x9d0123456789aZ\n\r"
WORDS = [
    b'"', b'""', b'"""', b"'", b'\\"', b"\x00", b"\x00\x00\x00", b"\r", b"\n\n", b"\xef\xbb\xbf",
    b"\xff\xfe", b"sep=;", b"sep=,\r\n", b"Caf\xe9", "Café".encode(), b"31/04/2026", b"2026-02-30",
    b"99999999999999999999", b"1e308", b"-1", b"nan", b"NULL", b"=1+1", b"24:00:00", b"00:60",
    b"1767225600", b"46000.5", b"Zone", b"Date", b"Time", b"User", b"Alarm", b"Page 1", b"-----",
    "\u2028".encode(), "\u202e".encode(), "\U0001f525".encode(), "İ".encode(), "١٢".encode(),
    b"UTC", b"+01:00", b"Z", b"TV01", b"1130", b"E130", b"NBA001", b"Total: 5", b"Account: TV99",
]  # fmt: skip


def fixed(rng):
    """Write a listing with columns at fixed places."""
    heads = [("DATE", 12), ("TIME", 10), ("ZN", 4), ("EVENT", 22), ("USER", 8)]
    lines = ["LOG OF TV01", ""] if rng.random() < 0.5 else []
    if rng.random() < 0.7:
        lines.append("".join(name.ljust(size) for name, size in heads))
        if rng.random() < 0.5:
            lines.append(" ".join("-" * (size - 1) for _, size in heads))
    for n in range(rng.randrange(1, 25)):
        cells = (
            f"{n + 1:02d}/02/2026", f"{n % 24:02d}:0{n % 6}:11", f"{n % 9:02d}" * (n % 3 > 0),
            rng.choice(["Alarm", "Restore", "System disarmed", "Low battery"]),
            rng.choice(["", "Ann", "Bob"]),
        )  # fmt: skip
        lines.append("".join(c.ljust(size) for c, (_, size) in zip(cells, heads, strict=True)))
    return "\n".join(lines).encode() + b"\n"


def keyed(rng):
    """Write a listing of keys and values."""
    sign = rng.choice([": ", " = ", ":"])
    out = []
    for n in range(rng.randrange(1, 12)):
        out += [f"Date{sign}{n + 1:02d}/02/2026 10:0{n % 6}", f"Event{sign}Zone {n} alarm"]
        out += [f"User{sign}{n}"] * rng.randrange(2) + [""] * rng.randrange(2)
    return "\n".join(out).encode() + b"\n"


def sentences(rng):
    """Write lines that say all in words."""
    out = [
        f"{n + 1:02d}.02.2026 1{n % 9}:0{n % 6} Zone {n} {rng.choice(['alarm', 'tamper'])}"
        for n in range(rng.randrange(1, 20))
    ]
    return "\n".join(out).encode() + b"\n"


def workbook(rng):
    """Write a small workbook."""
    import openpyxl

    book = openpyxl.Workbook()
    for line in seed(rng).decode("utf-8", errors="ignore").splitlines()[:20]:
        cells = ("".join(c for c in cell if c.isprintable()) for cell in line.split(","))
        book.active.append(list(cells))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@cache
def files():
    """Give the lines of the sample files with their line ends."""
    data = [path.read_bytes() for path in sorted(SAMPLES.rglob("*")) if path.is_file()]
    return [one if one[:1] == b"\xff" else one.splitlines(keepends=True) for one in data]


def seed(rng):
    """Give a small file that is mostly well."""
    kind = rng.random()
    if kind < 0.6:
        lines = rng.choice(files())
        if isinstance(lines, bytes):
            at = rng.randrange(len(lines) // 2) * 2
            return lines[: 2 * rng.randrange(10, 600)] + lines[at : at + 2 * rng.randrange(600)]
        top = rng.choice([0, 1, 2, 6, 12])
        at = rng.randrange(len(lines))
        end = rng.choice([0, 0, 2])
        return b"".join(
            [*lines[:top], *lines[at : at + rng.randrange(1, 25)], *lines[len(lines) - end :]]
        )
    if kind < 0.8:
        return rng.choice(CORPUS).data[:4000]
    return rng.choice([fixed, keyed, sentences])(rng)


def flip(rng, data):
    out = bytearray(data)
    for _ in range(rng.choice([1, 1, 2, 5, 30])):
        out[rng.randrange(len(out))] = rng.choice([rng.randrange(256), rng.choice(SIGNS)])
    return bytes(out)


def insert(rng, data):
    for _ in range(rng.choice([1, 1, 3, 10])):
        at = rng.randrange(len(data) + 1)
        word = rng.choice([rng.choice(WORDS), bytes([rng.choice(SIGNS)])])
        data = data[:at] + word + data[at:]
    return data


def cut(rng, data):
    a, b = sorted(rng.randrange(len(data) + 1) for _ in range(2))
    return rng.choice([data[:a], data[a:], data[:a] + data[b:], data[a:b]])


def repeat(rng, data):
    a = rng.randrange(len(data))
    b = min(len(data), a + rng.randrange(1, 400))
    return data[:b] + data[a:b] * rng.choice([1, 2, 20]) + data[b:]


def glue(rng, data):
    return data + rng.choice([b"", b"\n", b"\r\n", b"\x0c"]) + seed(rng)


def by_lines(rng, data):
    end = rng.choice(ENDS)
    lines = data.splitlines()
    what = rng.randrange(6)
    if what == 0:
        rng.shuffle(lines)
    elif what == 1:
        lines = [line for line in lines if rng.random() < 0.8]
    elif what == 2:
        lines = [line for line in lines for _ in range(rng.choice([1, 1, 1, 2, 3]))]
    elif what == 3:
        return b"".join(line + rng.choice(ENDS) for line in lines)
    elif what == 4 and len(lines) > 1:
        at = rng.randrange(len(lines) - 1)
        lines[at : at + 2] = [lines[at] + lines[at + 1]]
    else:
        lines.insert(rng.randrange(len(lines) + 1), rng.choice([b"", b" ", b",,,", *WORDS]))
    return end.join(lines) + rng.choice([b"", end])


def by_cells(rng, data):
    sign = max((b",", b";", b"\t", b"|"), key=data.count)
    rows = [line.split(sign) for line in data.splitlines()]
    what = rng.randrange(6)
    order = list(range(max(map(len, rows), default=1)))
    rng.shuffle(order)
    other = rng.choice([b",", b";", b"\t", b"|", b"^", b"~", b":", b" ", b"  ", b"!", sign * 2])
    mix = rng.random()
    out = []
    for row in rows:
        if what == 0:
            row = [row[at] for at in order if at < len(row)]  # noqa: PLW2901  # changed on purpose
        elif what == 1:
            # Changed on purpose.
            row = [b'"' + c.replace(b'"', b'""') + b'"' for c in row]  # noqa: PLW2901 - damaged on
        elif what == 2:
            row = [c for c in row if rng.random() < 0.9]  # noqa: PLW2901  # changed on purpose
        elif what == 3:
            # Changed on purpose.
            row = [rng.choice(WORDS) if rng.random() < 0.1 else c for c in row]  # noqa: PLW2901 - damaged on
        elif what == 4:
            # Changed on purpose.
            row = [b"" if rng.random() < 0.3 else c for c in row]  # noqa: PLW2901 - damaged on
        out.append((other if what == 5 and rng.random() < mix else sign).join(row))
    if what == 3 and out:
        out[rng.randrange(len(out))] += b"x" * rng.choice([10, 3000, 40_000])
    return b"\n".join(out) + b"\n"


def encode(rng, data):
    text = data.decode(rng.choice(["utf-8", "cp1252", "latin-1"]), errors="ignore")
    name = rng.choice(
        ["utf-16", "utf-16-le", "utf-16-be", "utf-8-sig", "cp1252", "utf-32", "cp037"]
    )
    return text.encode(name, errors="ignore")


def pack(rng, data):
    kind = rng.randrange(3)
    if kind == 0:
        return gzip.compress(data)
    if kind == 1:
        return workbook(rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("log.csv", data)
    return out.getvalue()


CHANGES = (flip, insert, cut, repeat, glue, by_lines, by_lines, by_cells, by_cells, encode)


def make(number):
    """Make the input of a number: the same each time."""
    rng = random.Random(number)
    data = seed(rng)
    for _ in range(rng.choice([0, 1, 1, 2, 3, 5])):
        if data:
            data = rng.choice(CHANGES)(rng, data)[:60_000]
    if rng.random() < 0.02:
        data = pack(rng, data)
        if rng.random() < 0.7:
            data = rng.choice([flip, cut, insert])(rng, data)
    return data
