"""A labelled corpus of nasty exports; each sample stands beside what is to be read from it."""

from dataclasses import dataclass

ROWS = [
    ("01/02/2025 22:15:03", "7", "Reading room", "Alarm"),
    ("01/02/2025 22:15:41", "7", "Reading room", "Restore"),
    ("02/02/2025 06:58:00", "", "Café é", "Disarm"),
    ("02/02/2025 18:03:12", "12", "Boathouse", "Arm"),
    ("03/02/2025 18:04:55", "0012", "Boathouse", "Arm"),
    ("04/02/2025 18:05:09", "12", "Glasshouse", "Arm"),
]
HEAD = ("Date", "Zone", "Place", "Event")


@dataclass(frozen=True)
class Sample:
    """One file and what it says."""

    name: str
    data: bytes
    delimiter: str | None = ","
    encoding: str = "utf-8"
    header: tuple[str, ...] | None = HEAD
    header_line: int | None = 1
    rows: tuple[tuple[str | None, ...], ...] = ()
    numbers: tuple[int, ...] | None = None
    broken: tuple[str, ...] = ()
    preamble: tuple[str, ...] = ()
    footer: tuple[str, ...] = ()
    other: int = 1
    quoted: bool = False
    says: str = ""


def cells(rows=ROWS):
    """Give rows as they come back: an empty cell is null."""
    return tuple(tuple(cell or None for cell in row) for row in rows)


def table(delimiter=",", *, end="\n", head=HEAD, rows=ROWS, tail=""):
    """Write a plain table."""
    lines = [delimiter.join(row) + tail for row in ((head,) if head else ()) + tuple(rows)]
    return end.join(lines) + end


def text(string):
    """Encode as UTF-8."""
    return string.encode("utf-8")


def quoted(delimiter=","):
    """Write a table with all cells quoted, quotes within doubled."""
    rows = [HEAD, *ROWS]
    return "".join(
        delimiter.join('"' + cell.replace('"', '""') + '"' for cell in row) + "\r\n" for row in rows
    )


OLD = "Café é".encode("cp1252")
NOTES = (
    ("01/02/2025", "7", "door left open,\nkeys found", "A"),
    ("02/02/2025", "8", 'the "old" gate', "B"),
    ("03/02/2025", "9", "all well", "C"),
    ("04/02/2025", "9", "one\r\ntwo\n\nfour", "D"),
    ("05/02/2025", "9", "", "E"),
)
NOTES_TEXT = (
    "Date,Zone,Place,Event\n"
    '01/02/2025,7,"door left open,\nkeys found",A\n'
    '02/02/2025,8,"the ""old"" gate",B\n'
    "03/02/2025,9,all well,C\n"
    '04/02/2025,9,"one\r\ntwo\n\nfour",D\n'
    '05/02/2025,9,"",E\n'
)
PAGE = "Site: Museum;Printed: 01/02/2025"
PAGED = (
    f"{PAGE}\nPage 1 of 3\n\n"
    + table(";", rows=ROWS[:2])
    + f"\n{PAGE}\nPage 2 of 3\n\n"
    + table(";", rows=ROWS[2:4])
    + f"\f{PAGE}\nPage 3 of 3\n\n"
    + table(";", rows=ROWS[4:])
    + "\nTotal: 6\nEnd of report\n"
)
LISTING = """EVENT LOG   SITE 12
Printed 01/02/2025

DATE       TIME     ZN EVENT                USER
---------- -------- -- -------------------- --------
01/02/2025 10:00:00 07 Alarm
01/02/2025 10:00:05 07 Restore "x"
01/02/2025 10:00:09    System disarmed      Zoë Ash
Page 1

DATE       TIME     ZN EVENT                USER
---------- -------- -- -------------------- --------
01/02/2025 10:01:00 12 Alarm
01/02/2025 10:01:30 12 A very long text that goes over the user
01/02/2025 10:02:00    System armed         Bob
Page 2
End of log
"""
FEET = "".join(
    table("\t", head=HEAD if i == 0 else None, rows=ROWS[2 * i : 2 * i + 2]) + f"Page {i + 1}\n"
    for i in range(3)
)

SAMPLES = [
    *(
        Sample(f"plain {name}", text(table(d)), delimiter=d, rows=cells())
        for name, d in (
            ("comma", ","),
            ("semicolon", ";"),
            ("tab", "\t"),
            ("bar", "|"),
            ("caret", "^"),
            ("tilde", "~"),
        )
    ),
    *(
        Sample(f"ends {name}", text(table(end=end)), rows=cells(), says=says)
        for name, end, says in (("crlf", "\r\n", "CRLF."), ("cr", "\r", "with CR."))
    ),
    Sample(
        "ends mixed",
        b"Date,Zone\r\n01/02/2025,1\n02/02/2025,2\r03/02/2025,3\r\n04/02/2025,4\n",
        header=("Date", "Zone"),
        rows=tuple((f"0{i}/02/2025", str(i)) for i in range(1, 5)),
        says="CRLF and LF and CR",
    ),
    Sample("utf-8 mark", b"\xef\xbb\xbf" + text(table()), encoding="utf-8-sig", rows=cells()),
    Sample(
        "utf-16 le", b"\xff\xfe" + table().encode("utf-16-le"), encoding="utf-16-le", rows=cells()
    ),
    Sample(
        "utf-16 be", b"\xfe\xff" + table().encode("utf-16-be"), encoding="utf-16-be", rows=cells()
    ),
    Sample("utf-16 le bare", table().encode("utf-16-le"), encoding="utf-16-le", rows=cells()),
    Sample("utf-16 be bare", table().encode("utf-16-be"), encoding="utf-16-be", rows=cells()),
    Sample("cp1252", table().encode("cp1252"), encoding="cp1252", rows=cells()),
    Sample(
        "cp1252 open bytes",
        b"Date,Text\n01/02/2025,a\x81\x8d\x8f\x90\x9d\n02/02/2025,it\x92s \x96 on\n",
        encoding="cp1252",
        header=("Date", "Text"),
        rows=(("01/02/2025", "a\x81\x8d\x8f\x90\x9d"), ("02/02/2025", "it’s – on")),
    ),
    Sample(
        "mixed encodings",
        text(table()) + b"05/02/2025 18:05:09,1," + OLD + b",Arm\n",
        rows=(*cells(), ("05/02/2025 18:05:09", "1", "Café é", "Arm")),
        says="read as Windows-1252: 1.",
    ),
    Sample(
        "no heading", text(table(head=None)), header=None, header_line=None, rows=cells(), other=0
    ),
    Sample(
        "no heading, empty column",
        text(table("\t", head=None, tail="\t")),
        delimiter="\t",
        header=None,
        header_line=None,
        rows=tuple((*row, None) for row in cells()),
        other=0,
    ),
    Sample(
        "trailing delimiter",
        text(table(";", tail=";")),
        delimiter=";",
        header=(*HEAD, ""),
        rows=tuple((*row, None) for row in cells()),
    ),
    Sample(
        "trailing delimiter but in the heading",
        text(";".join(HEAD) + "\n" + table(";", head=None, tail=";")),
        delimiter=";",
        header=(*HEAD, ""),
        rows=tuple((*row, None) for row in cells()),
    ),
    Sample(
        "trailing delimiter in the heading only",
        text(",".join(HEAD) + ",\n" + table(head=None)),
        rows=cells(),
    ),
    Sample(
        "headings twice and blank",
        b"Date,,Zone,Zone\n01/02/2025,a,1,2\n02/02/2025,b,3,4\n",
        header=("Date", "", "Zone", "Zone"),
        rows=(("01/02/2025", "a", "1", "2"), ("02/02/2025", "b", "3", "4")),
    ),
    Sample("heading only", b"Date,Zone,Event\n", header=("Date", "Zone", "Event"), rows=()),
    Sample(
        "preamble and footer",
        text(
            "Tarn Valley Libraries\nSite: Museum;Printed: 01/02/2025\n\n"
            + table(";")
            + "\nTotal: 5\nEnd of report"
        ),
        delimiter=";",
        header_line=4,
        rows=cells(),
        preamble=("Tarn Valley Libraries", "Site: Museum;Printed: 01/02/2025"),
        footer=("Total: 5", "End of report"),
        other=7,
    ),
    Sample(
        "preamble as wide as the table",
        text(
            "Site: Museum;Printed: 01/02/2025\nDate;Event\n"
            + "".join(f"0{i}/02/2025 10:00;Alarm zone {i}\n" for i in range(1, 8))
        ),
        delimiter=";",
        header=("Date", "Event"),
        header_line=2,
        rows=tuple((f"0{i}/02/2025 10:00", f"Alarm zone {i}") for i in range(1, 8)),
        preamble=("Site: Museum;Printed: 01/02/2025",),
        other=2,
    ),
    Sample(
        "padded by a spreadsheet",
        text("Site: Museum,,,\n,,,\n" + table() + "End of report,,,\n"),
        header_line=3,
        rows=cells(),
        preamble=("Site: Museum,,,",),
        footer=("End of report,,,",),
        other=4,
    ),
    Sample(
        "heading on each page",
        text(PAGED),
        delimiter=";",
        header_line=4,
        rows=cells(),
        numbers=(5, 6, 12, 13, 18, 19),
        preamble=(PAGE, "Page 1 of 3"),
        footer=("Total: 6", "End of report"),
        other=16,
        says="Repeats of the heading: 2.",
    ),
    Sample(
        "page feet",
        text(FEET),
        delimiter="\t",
        rows=cells(),
        numbers=(2, 3, 5, 6, 8, 9),
        footer=("Page 3",),
        other=4,
    ),
    Sample(
        "blank lines",
        text(table().replace("\n", "\n\n", 3) + " \n,,,\n\t\n"),
        rows=cells(),
        numbers=(3, 5, 7, 8, 9, 10),
        other=7,
    ),
    Sample(
        "sep line",
        b"sep=;\r\n" + text(table(";")),
        delimiter=";",
        header_line=2,
        rows=cells(),
        other=2,
    ),
    Sample(
        "sep line, strange",
        b'"sep=!"\n' + text(table("!")),
        delimiter="!",
        header_line=2,
        rows=cells(),
        other=2,
    ),
    Sample("all quoted", text(quoted()), rows=cells(), quoted=True),
    Sample(
        "notes over several lines",
        text(NOTES_TEXT),
        rows=cells(NOTES),
        numbers=(2, 4, 5, 6, 10),
        other=5,
        quoted=True,
        says="Rows with line ends within quoted cells: 2.",
    ),
    Sample(
        "quote never closed",
        text(table().replace("Reading room,Alarm", '"Reading room,Alarm')),
        rows=cells([(ROWS[0][0], "7", '"Reading room', "Alarm"), *ROWS[1:]]),
        says="marks kept as text: 1.",
    ),
    Sample(
        "quote never closed among quoted cells",
        text(table(rows=[(a, b, f'"{c}"', d) for a, b, c, d in ROWS]).replace('room"', "room", 1)),
        rows=cells([(ROWS[0][0], "7", '"Reading room', "Alarm"), *ROWS[1:]]),
        quoted=True,
        says="marks kept as text: 1.",
    ),
    Sample(
        "inch marks",
        text(table(rows=[(a, b, c + ' 12"', d) for a, b, c, d in ROWS])),
        rows=cells([(a, b, c + ' 12"', d) for a, b, c, d in ROWS]),
    ),
    Sample(
        "quoted cells beside inch marks",
        b'Date,Place,Text\n01/02/2025,"Hall, front",12" pipe\n02/02/2025,"Hall",12" pipe\n'
        b'03/02/2025,"Hall",pipe\n',
        header=("Date", "Place", "Text"),
        rows=(
            ("01/02/2025", "Hall, front", '12" pipe'),
            ("02/02/2025", "Hall", '12" pipe'),
            ("03/02/2025", "Hall", "pipe"),
        ),
        quoted=True,
    ),
    Sample(
        "ditto marks",
        text(table(rows=[(a, b, '"', d) for a, b, c, d in ROWS])),
        rows=cells([(a, b, '"', d) for a, b, c, d in ROWS]),
        says="marks kept as text: 6.",
    ),
    Sample(
        "ragged",
        text(
            table()
            + "05/02/2025 09:00:00,3,Hall, front,Alarm\n05/02/2025 09:01:00,3\n"
            + table(head=None)
        ),
        rows=cells() * 2,
        numbers=(*range(2, 8), *range(10, 16)),
        broken=(
            "05/02/2025 09:00:00,3,Hall, front,Alarm",
            "05/02/2025 09:01:00,3",
        ),
        says="Rows with too few or too many cells: 2.",
    ),
    Sample(
        "layout changes",
        text(table() + table(head=None, tail=",x") + table(head=None)),
        rows=cells() * 2,
        numbers=(*range(2, 8), *range(14, 20)),
        broken=tuple(table(head=None, tail=",x").splitlines()),
    ),
    Sample(
        "some rows with a delimiter too many",
        text(table() + table(head=None, tail=",")),
        rows=cells() * 2,
        numbers=tuple(range(2, 14)),
        says="Rows that differ by an empty last cell only: 6.",
    ),
    Sample(
        "decimal commas",
        b"01/02/2025;12,5;13,5\n02/02/2025;12,4;13,1\n03/02/2025;12,0;12,9\n",
        delimiter=";",
        header=None,
        header_line=None,
        rows=(
            ("01/02/2025", "12,5", "13,5"),
            ("02/02/2025", "12,4", "13,1"),
            ("03/02/2025", "12,0", "12,9"),
        ),
        other=0,
    ),
    Sample(
        "commas in the wording",
        text("".join(f"0{i}/02/2025 10:00;{i};Door, front\n" for i in range(1, 8))),
        delimiter=";",
        header=None,
        header_line=None,
        rows=tuple((f"0{i}/02/2025 10:00", str(i), "Door, front") for i in range(1, 8)),
        other=0,
    ),
    Sample(
        "fixed width",
        text("".join(f"01/02/2025 10:0{i}:00   Zone {i}   Alarm\n" for i in range(8))),
        delimiter=None,
        header=None,
        header_line=None,
        rows=tuple((f"01/02/2025 10:0{i}:00", f"Zone {i}", "Alarm") for i in range(8)),
        other=0,
        says="Columns stand at fixed places",
    ),
    Sample(
        "sentences",
        text(
            "".join(f"01/02/2025 10:0{i}:00 Zone {i} alarm {'again' * (i % 2)}\n" for i in range(8))
        ),
        delimiter=None,
        header=None,
        header_line=None,
        rows=tuple(
            (f"01/02/2025 10:0{i}:00 Zone {i} alarm {'again' * (i % 2)}",) for i in range(8)
        ),
        other=0,
        says="No delimiter found",
    ),
    Sample(
        "fixed width, ruled, on pages",
        text(LISTING),
        delimiter=None,
        header=("DATE", "TIME", "ZN", "EVENT", "USER"),
        header_line=4,
        rows=(
            ("01/02/2025", "10:00:00", "07", "Alarm", None),
            ("01/02/2025", "10:00:05", "07", 'Restore "x"', None),
            ("01/02/2025", "10:00:09", None, "System disarmed", "Zoë Ash"),
            ("01/02/2025", "10:01:00", "12", "Alarm", None),
            ("01/02/2025", "10:02:00", None, "System armed", "Bob"),
        ),
        numbers=(6, 7, 8, 13, 15),
        broken=("01/02/2025 10:01:30 12 A very long text that goes over the user",),
        preamble=("EVENT LOG   SITE 12", "Printed 01/02/2025"),
        footer=("Page 2", "End of log"),
        other=11,
        says="by the ruled line 5: 5 columns",
    ),
    Sample(
        "fixed width, headed, single gaps",
        text(
            "DATE       TIME     ZN EVENT\n"
            "01/02/2025 10:00:00 07 Alarm\n01/02/2025 10:00:05 07 Restore\n"
            "01/02/2025 10:00:09    System disarmed\n01/02/2025 10:01:00 12 Alarm\n"
        ),
        delimiter=None,
        header=("DATE", "TIME", "ZN", "EVENT"),
        rows=(
            ("01/02/2025", "10:00:00", "07", "Alarm"),
            ("01/02/2025", "10:00:05", "07", "Restore"),
            ("01/02/2025", "10:00:09", None, "System disarmed"),
            ("01/02/2025", "10:01:00", "12", "Alarm"),
        ),
    ),
    Sample(
        "fixed width, figures to the right",
        text(
            "".join(
                f"{7 * i:3d}  01/02/2025 10:0{i}:00  {('Alarm', 'Restore')[i % 2]:12s}"
                f"{('Zone 1', 'Zone 22')[i % 2]:>8s}\n"
                for i in range(6)
            )
        ),
        delimiter=None,
        header=None,
        header_line=None,
        rows=tuple(
            (
                str(7 * i),
                f"01/02/2025 10:0{i}:00",
                ("Alarm", "Restore")[i % 2],
                ("Zone 1", "Zone 22")[i % 2],
            )
            for i in range(6)
        ),
        other=0,
    ),
    Sample(
        "drawn with bars",
        text(
            "+------------+------+\n| Date       | Zone |\n+------------+------+\n"
            "| 01/02/2025 | 7    |\n| 02/02/2025 | 8    |\n+------------+------+\n"
        ),
        delimiter="|",
        header=("", " Date       ", " Zone ", ""),
        header_line=2,
        rows=((None, " 01/02/2025 ", " 7    ", None), (None, " 02/02/2025 ", " 8    ", None)),
        other=4,
    ),
    Sample(
        "a ruled line of full width",
        b"| Date | Zone |\n|------|------|\n| 01/02/2025 | 7 |\n| 02/02/2025 | 8 |\n",
        delimiter="|",
        header=("", " Date ", " Zone ", ""),
        rows=((None, " 01/02/2025 ", " 7 ", None), (None, " 02/02/2025 ", " 8 ", None)),
        other=2,
    ),
    Sample(
        "a key before each value, blanks between",
        text(
            "Site: TV01\n\n"
            + "".join(
                f"Date: 01/02/2025\nTime: 10:0{i}\nEvent: Café\nZone: {i}\n\n" for i in range(4)
            )
            + "End of list\n"
        ),
        delimiter=None,
        header=("Date", "Time", "Event", "Zone"),
        header_line=None,
        rows=tuple(("01/02/2025", f"10:0{i}", "Café", str(i)) for i in range(4)),
        numbers=(3, 8, 13, 18),
        preamble=("Site: TV01",),
        footer=("End of list",),
        other=19,
        says="Records begin with “Date:”: 4 keys in 4 records",
    ),
    Sample(
        "a key before each value, the first begins each record",
        text(
            "".join(
                f"Date = 01/02/2025 10:0{i}\nText = Alarm\n  in the hall\n"
                + (f"User = {i}\n" if i % 2 else "")
                for i in range(4)
            )
        ),
        delimiter=None,
        header=("Date", "Text", "User"),
        header_line=None,
        rows=tuple(
            (f"01/02/2025 10:0{i}", "Alarm\nin the hall", str(i) if i % 2 else None)
            for i in range(4)
        ),
        numbers=(1, 4, 8, 11),
        other=10,
    ),
    Sample(
        "a record that the file ends in",
        text(
            "".join(f"Date: 01/02/2025 10:0{i}\nEvent: Alarm\nZone: {i}\n" for i in range(4))[:-8]
        ),
        delimiter=None,
        header=("Date", "Event", "Zone"),
        header_line=None,
        rows=tuple((f"01/02/2025 10:0{i}", "Alarm", str(i)) for i in range(3)),
        numbers=(1, 4, 7),
        broken=("Date: 01/02/2025 10:03\nEvent: Alarm",),
        other=7,
    ),
    Sample(
        "backslashes before quotes, spaces around them",
        b'Date,Zone,Text,State\n01/02/2025,7,"say \\"hi\\", go",A\n01/02/2025,8,plain,B\n'
        b'02/02/2025,8, "with, comma" ,B\n03/02/2025,8,"path C:\\","x"\n',
        header=("Date", "Zone", "Text", "State"),
        rows=(
            ("01/02/2025", "7", 'say "hi", go', "A"),
            ("01/02/2025", "8", "plain", "B"),
            ("02/02/2025", "8", "with, comma", "B"),
            ("03/02/2025", "8", "path C:\\", "x"),
        ),
        quoted=True,
        says="Rows with a backslash before quotation marks, or spaces around them: 2.",
    ),
    Sample(
        "sep line that divides nothing",
        b"sep=;\nDate,Zone\n01/02/2025,1\n02/02/2025,2\n",
        header=("Date", "Zone"),
        header_line=2,
        rows=(("01/02/2025", "1"), ("02/02/2025", "2")),
        other=2,
        says="which divides no line. Cells are divided by comma",
    ),
    Sample(
        "both encodings in one line, and few lines of the other",
        text(table()) + "05/02/2025 18:05:09,1,é ".encode() + OLD + b",Arm\n",
        rows=(*cells(), ("05/02/2025 18:05:09", "1", "é Café é", "Arm")),
    ),
    Sample(
        "mostly Windows-1252",
        b"Date,Text\n"
        + b"".join(b"%02d/02/2025," % i + OLD + b"\n" for i in range(1, 25))
        + text("25/02/2025,Café é\n"),
        encoding="cp1252",
        header=("Date", "Text"),
        rows=tuple((f"{i:02d}/02/2025", "Café é") for i in range(1, 26)),
        says="UTF-8 all the same, and read so: 1.",
    ),
    Sample(
        "no line end at the end, proved by its column",
        text(table()[:-1]),
        rows=cells(),
    ),
    Sample(
        "no line end at the end, and a number that may be longer",
        b"Date,Zone\n01/02/2025,1\n02/02/2025,12\n03/02/2025,1",
        header=("Date", "Zone"),
        rows=(("01/02/2025", "1"), ("02/02/2025", "12")),
        broken=("03/02/2025,1",),
        says="may be cut short",
    ),
    Sample(
        "cut within a quoted cell",
        text(NOTES_TEXT[: NOTES_TEXT.index("two")]),
        rows=cells(NOTES[:3]),
        numbers=(2, 4, 5),
        broken=('04/02/2025,9,"one',),
        other=2,
        quoted=True,
    ),
    Sample(
        "comma of a fraction",
        text("".join(f"2025-02-01 10:00:0{i},12{i} Zone {i} alarm\n" for i in range(8))),
        delimiter=None,
        header=None,
        header_line=None,
        rows=tuple((f"2025-02-01 10:00:0{i},12{i} Zone {i} alarm",) for i in range(8)),
        other=0,
    ),
    Sample(
        "one column",
        b"Code\n1130\n3130\n\n1401\n",
        delimiter=None,
        header=("Code",),
        rows=(("1130",), ("3130",), ("1401",)),
        numbers=(2, 3, 5),
        other=2,
    ),
    Sample(
        "NUL bytes",
        b"Date,Text\n01/02/2025,a\x00b\n02/02/2025,c\n\x00\x00\x00\x00",
        header=("Date", "Text"),
        rows=(("01/02/2025", "a\x00b"), ("02/02/2025", "c")),
        other=2,
    ),
    Sample(
        "spaces kept",
        b"Date,Text\n01/02/2025, a \n02/02/2025, b\n",
        header=("Date", "Text"),
        rows=(("01/02/2025", " a "), ("02/02/2025", " b")),
    ),
    Sample(
        "very long cell",
        text("Date,Text\n01/02/2025," + "x" * 200_000 + "\n02/02/2025,b\n"),
        header=("Date", "Text"),
        rows=(("01/02/2025", "x" * 200_000), ("02/02/2025", "b")),
    ),
    Sample(
        "words only",
        b"name,trade\nMill Library,library\nTarn Museum,museum\nOld Hall,museum\nQuay,library\n",
        header=("name", "trade"),
        rows=(
            ("Mill Library", "library"),
            ("Tarn Museum", "museum"),
            ("Old Hall", "museum"),
            ("Quay", "library"),
        ),
    ),
    Sample(
        "words only, no heading",
        b"Bed,ON\nBed,OFF\nHall,ON\nHall,OFF\nBed,ON\nBed,OFF\n",
        header=None,
        header_line=None,
        rows=(
            ("Bed", "ON"),
            ("Bed", "OFF"),
            ("Hall", "ON"),
            ("Hall", "OFF"),
            ("Bed", "ON"),
            ("Bed", "OFF"),
        ),
        other=0,
    ),
    Sample(
        "cut in the last row",
        text(table() + "05/02/2025 1"),
        rows=cells(),
        broken=("05/02/2025 1",),
        says="Rows with too few or too many cells: 1.",
    ),
]
