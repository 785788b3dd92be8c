"""What the reader of workbooks leans on: numbers come as stored once the date formats are empty."""

import io

import openpyxl


def test_dates_come_as_their_serials_with_their_format():
    out = openpyxl.Workbook()
    out.active.append([46110.123456789012])
    out.active["A1"].number_format = "yyyy-mm-dd hh:mm:ss.000"
    data = io.BytesIO()
    out.save(data)
    book = openpyxl.load_workbook(data, read_only=True, data_only=True)
    (converted,) = next(book.active.values)
    assert converted.microsecond % 1000 == 0, "the library rounds to thousandths"
    book = openpyxl.load_workbook(data, read_only=True, data_only=True)
    book._date_formats = set()
    book._timedelta_formats = set()
    ((cell,),) = book.active.rows
    assert abs(cell.value - 46110.123456789012) < 1e-11
    assert cell.number_format == "yyyy-mm-dd hh:mm:ss.000"
