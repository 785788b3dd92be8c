"""Workbooks are written by another library than the one that reads the rules here: openpyxl.

Serial numbers and their 1904 form: ECMA-376 part 1, 18.17.4.1 (from memory).
"""

import io
import random
import zipfile
from datetime import date, datetime, time, timedelta

import openpyxl
import pytest
from openpyxl.styles.numbers import FORMAT_DATE_XLSX22

from eventlab.errors import UnreadableFile
from eventlab.intake import read_bytes
from tests.intake.test_sheet import account

START = datetime(2026, 3, 29, 0, 59, 59)  # noqa: DTZ001  # as workbooks have them
ZERO = openpyxl.utils.datetime.WINDOWS_EPOCH


def book(rows, *, title="Log", formats=None, more=(), epoch=None):
    """Write rows to a sheet; formats by column letter."""
    out = openpyxl.Workbook()
    if epoch is not None:
        out.epoch = epoch
    sheet = out.active
    sheet.title = title
    for row in rows:
        sheet.append(row)
    for letter, form in (formats or {}).items():
        for cell in sheet[letter]:
            if not isinstance(cell.value, str):
                cell.number_format = form
    for name, cells in more:
        other = out.create_sheet(name)
        for row in cells:
            other.append(row)
    data = io.BytesIO()
    out.save(data)
    return data.getvalue()


def read(data, **said):
    sheet = read_bytes(data, name="log.xlsx", **said)
    account(sheet)
    assert (sheet.encoding, sheet.delimiter) == ("xlsx", None)
    return sheet


def changed(data, change):
    """Change the parts of a workbook."""
    source, out = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
    with zipfile.ZipFile(out, "w") as copy:
        for name in source.namelist():
            copy.writestr(name, change(name, source.read(name)))
    return out.getvalue()


def test_dates_come_out_to_the_microsecond():
    rng = random.Random(3)
    times = [START + timedelta(microseconds=rng.randrange(10**15)) for _ in range(500)]
    data = book(
        [["When", "Event"], *([n, "Alarm"] for n in range(len(times)))],
        formats={"A": "yyyy-mm-dd hh:mm:ss.000"},
    )

    def in_full(name, body):
        """Write serials with all digits of their double, as spreadsheet programs do."""
        if not name.startswith("xl/worksheets/"):
            return body
        for n, moment in enumerate(times):
            serial = repr((moment - ZERO) / timedelta(days=1)).encode()
            cell = b'<c r="A%d" s="1" t="n"><v>%%s</v>' % (n + 2)
            body = body.replace(cell % b"%d" % n, cell % serial)
        return body

    cells = read(changed(data, in_full)).cells["c0"].to_list()
    assert cells == [t.isoformat(" ") for t in times]


def test_dates_written_as_text_of_iso_8601_come_out_as_they_stand():
    out = openpyxl.Workbook(iso_dates=True)
    times = [START + timedelta(seconds=n) for n in range(20)]
    for moment in times:
        out.active.append([moment, "x"])
    data = io.BytesIO()
    out.save(data)
    assert read(data.getvalue()).cells["c0"].to_list()[1:] == [t.isoformat(" ") for t in times][1:]


def test_thousandths_stay_whole():
    times = [START + timedelta(milliseconds=7 * i + 1) for i in range(300)]
    data = book([["When"], *([t] for t in times)], formats={"A": "yyyy-mm-dd hh:mm:ss.000"})
    assert read(data).cells["c0"].to_list() == [t.isoformat(" ") for t in times]


@pytest.mark.parametrize(
    "epoch", [openpyxl.utils.datetime.WINDOWS_EPOCH, openpyxl.utils.datetime.MAC_EPOCH]
)
def test_whole_seconds_stay_whole_in_both_calendars(epoch):
    times = [START + timedelta(seconds=7 * i) for i in range(300)]
    data = book([["When"], *([t] for t in times)], epoch=epoch)
    assert read(data).cells["c0"].to_list() == [f"{t:%Y-%m-%d %H:%M:%S}" for t in times]


def test_numbers_cut_to_fifteen_digits_are_the_second_they_stand_for():
    times = [START + timedelta(seconds=11 * i) for i in range(200)]
    serials = [float(f"{(t - ZERO) / timedelta(days=1):.15g}") for t in times]
    data = book([["When"], *([s] for s in serials)], formats={"A": "dd/mm/yyyy hh:mm:ss"})
    assert read(data).cells["c0"].to_list() == [f"{t:%Y-%m-%d %H:%M:%S}" for t in times]


def test_each_form_is_written_as_what_it_holds():
    rows = [
        ["Day", "Time", "Minute", "Span", "Code", "Zone", "Rate", "Whole", "State", "Text"],
        [
            date(2026, 1, 2),
            time(3, 4, 5),
            START.replace(month=1, day=2, hour=3, minute=4, second=0),
            timedelta(hours=26),
            130,
            7,
            2.5,
            1130.0,
            True,
            "0012",
        ],
        [
            date(2026, 1, 3),
            time(23, 59),
            START.replace(month=1, day=3, minute=0, second=0),
            timedelta(minutes=5),
            7,
            12,
            0.1 + 0.2,
            3,
            False,
            "1+1 = 2",
        ],
    ]
    forms = {
        "A": FORMAT_DATE_XLSX22,
        "B": "hh:mm:ss",
        "C": "dd/mm/yy hh:mm",
        "D": "[h]:mm:ss",
        "E": "0000",
        "F": '"Z"00',
        "G": "General",
    }
    sheet = read(book(rows, formats=forms))
    assert sheet.header == tuple(rows[0])
    times = [cells[:4] for cells in sheet.cells.drop("row").rows()]
    assert times == [
        ("2026-01-02 00:00", "03:04:05", "2026-01-02 03:04", "26:00:00"),
        ("2026-01-03 00:00", "23:59:00", "2026-01-03 00:00", "0:05:00"),
    ]
    assert [cells[4:] for cells in sheet.cells.drop("row").rows()] == [
        ("0130", "Z07", "2.5", "1130", "TRUE", "0012"),
        ("0007", "Z12", "0.3", "3", "FALSE", "1+1 = 2"),
    ]


def test_rows_keep_the_numbers_of_the_sheet():
    rows = [
        ["Tarn Museum"],
        [],
        ["When", "Text"],
        [START, 'a "b"\nc'],
        [],
        [START, "d\te"],
        [None, None],
        [START, ",;|"],
    ]
    sheet = read(book(rows))
    assert (sheet.lines, sheet.rows, sheet.other) == (8, 3, 5)
    assert sheet.header == ("When", "Text")
    assert [line.text for line in sheet.preamble] == ["Tarn Museum\t"]
    stamp = f"{START:%Y-%m-%d %H:%M:%S}"
    assert sheet.cells.rows() == [(4, stamp, 'a "b"\nc'), (6, stamp, "d\te"), (8, stamp, ",;|")]
    assert sheet.raw([4])["raw"].to_list() == [f'{stamp}\ta "b" c']


def test_a_formula_without_its_value_is_told():
    rows = [["When", "Zone"], [START, 7], [START, "=1+2"], [START, 8]]
    sheet = read(book(rows))
    assert sheet.cells["row"].to_list() == [2, 4]
    assert sheet.broken.select("row", "problem").rows() == [
        (3, "a formula in it was saved without its value")
    ]


def test_a_formula_gives_the_value_saved_with_it():
    data = book([["When", "Zone"], [START, "=1+2"], [START, 4]])

    def computed(_, body):
        return body.replace(b"<v />", b"<v>3</v>").replace(b"<v></v>", b"<v>3</v>")

    assert read(changed(data, computed)).cells["c1"].to_list() == ["3", "4"]


def test_several_sheets_are_named():
    data = book([["When", "Zone"], [START, 7]], more=[("Notes", [["hello"]]), ("Blank", [])])
    with pytest.raises(UnreadableFile, match="“Log”, “Notes”"):
        read(data)


def test_a_far_cell_does_not_fill_the_memory():
    out = openpyxl.Workbook()
    for n in range(1, 200):
        out.active.append([START, n])
    out.active["XFD900"] = "far"
    data = io.BytesIO()
    out.save(data)
    sheet = read(data.getvalue())
    assert (sheet.lines, sheet.cells.width) == (900, 4)


@pytest.mark.parametrize("cut", [0.2, 0.5, 0.9, 0.999])
def test_a_cut_workbook_is_told(cut):
    data = book([["When", "Zone"], [START, 7]] * 50)
    with pytest.raises(UnreadableFile, match="damaged"):
        read(data[: int(len(data) * cut)])


def test_a_workbook_with_nothing_in_it_is_told():
    with pytest.raises(UnreadableFile, match="blank sheets"):
        read(book([]))


def test_declared_entities_are_refused():
    data = book([["When", "Zone"], [START, 7]])

    def declared(name, body):
        doctype = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]>'
        return doctype + body if name == "xl/workbook.xml" else body

    with pytest.raises(UnreadableFile, match="damaged or not like others"):
        read(changed(data, declared))
