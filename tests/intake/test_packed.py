"""Compressed files: the content is the export; bombs, locks and damage are told."""

import gzip
import io
import os
import struct
import zipfile

import pytest

from eventlab.errors import UnreadableFile
from eventlab.intake import packed, pieces, read_bytes
from tests.intake.corpus import cells, table
from tests.intake.test_workbook import START, book

LOG = table().encode()


def zipped(files, **said):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, **said) as archive:
        for name, data in files:
            archive.writestr(name, data)
    return out.getvalue()


def on_disk(tmp_path, data, name="logs.zip"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("data", [gzip.compress(LOG), zipped([("a.csv", LOG)])], ids=["gz", "zip"])
def test_the_same_log_plain_and_packed_is_one_export(data, tmp_path):
    plain, packed_one = read_bytes(LOG, name="a.csv"), read_bytes(data, name="a.csv.gz")
    assert packed_one.sha256 == plain.sha256
    assert packed_one.size == len(LOG)
    assert packed_one.cells.equals(plain.cells)
    (piece,) = pieces(on_disk(tmp_path, data))
    assert piece.bytes() == LOG


def test_an_archive_is_its_files(tmp_path):
    other = LOG.replace(b"7", b"8")
    data = zipped(
        [
            ("jan/a.csv", LOG),
            ("b.csv", other),
            ("__MACOSX/b.csv", b"x"),
            (".hidden", b"x"),
            ("d/", b""),
        ]
    )
    path = on_disk(tmp_path, data)
    found = pieces(path)
    assert [piece.name for piece in found] == ["logs.zip: jan/a.csv", "logs.zip: b.csv"]
    assert [piece.shown for piece in found] == [f"{path}: jan/a.csv", f"{path}: b.csv"]
    assert [piece.bytes() for piece in found] == [LOG, other]
    with pytest.raises(UnreadableFile, match="it holds 2 files"):
        read_bytes(zipped([("a", LOG), ("b", LOG)]), name="x.zip")


def test_two_files_of_one_name_stay_two(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("a.csv", LOG)
        with pytest.warns(UserWarning, match="Duplicate"):
            archive.writestr("a.csv", LOG + LOG)
    found = pieces(on_disk(tmp_path, out.getvalue()))
    assert [len(piece.bytes()) for piece in found] == [len(LOG), 2 * len(LOG)]


def test_a_workbook_of_several_sheets_is_its_sheets(tmp_path):
    rows = [["When", "Zone"], [START, 7], [START, 8]]
    data = book(
        rows, title="Log 1", more=[("Zones", [["site", "zone"], ["TV01", 1]]), ("Blank", [])]
    )
    for path, start in (
        (on_disk(tmp_path, data, "log.xlsx"), "log.xlsx"),
        (on_disk(tmp_path, zipped([("x/log.xlsx", data)])), "logs.zip: x/log.xlsx"),
    ):
        found = pieces(path)
        assert [piece.name for piece in found] == [f"{start}: Log 1", f"{start}: Zones"]
        sheets = [read_bytes(piece.bytes(), name=piece.name) for piece in found]
        assert [sheet.name for sheet in sheets] == [piece.name for piece in found]
        assert [sheet.header for sheet in sheets] == [("When", "Zone"), ("site", "zone")]
        assert "Its other sheets: “Zones”." in sheets[0].evidence[0]
        assert sheets[0].sha256 != sheets[1].sha256
        assert found[0].bytes().endswith(data), "the workbook is kept byte for byte"


def test_a_workbook_of_one_sheet_is_the_export_itself(tmp_path):
    data = book([["When", "Zone"], [START, 7], [START, 8]])
    (piece,) = pieces(on_disk(tmp_path, data, "log.xlsx"))
    assert piece.bytes() == data


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (gzip.compress(LOG)[:-9], "ends too early"),
        (gzip.compress(LOG)[:-8] + b"12345678", "damaged"),
        (gzip.compress(gzip.compress(LOG)), "an archive within"),
        (gzip.compress(zipped([("a", LOG)])), "an archive within"),
        (zipped([("a.zip", zipped([("a", LOG)]))]), "an archive within"),
        (zipped([("a.gz", gzip.compress(LOG))]), "an archive within"),
        (zipped([("a", LOG)])[:-5], "the archive is damaged"),
        (zipped([]), "the archive is empty"),
        (zipped([("mimetype", b"x"), ("META-INF/manifest.xml", b"x")]), "no .xlsx workbook"),
        (zipped([("[Content_Types].xml", b"x"), ("word/document.xml", b"x")]), "no .xlsx workbook"),
        (
            zipped([("a.ods", zipped([("mimetype", b"x"), ("META-INF/manifest.xml", b"x")]))]),
            "within",
        ),
        (gzip.compress(b"\x00" * (1 << 27)), "unpacks to .* too much"),
        (zipped([("a", b"\x00" * (1 << 27))]), "unpacks to .* too much"),
    ],
)
def test_what_cannot_be_unpacked_is_told(data, said):
    with pytest.raises(UnreadableFile, match=said) as caught:
        read_bytes(data, name="x.zip")
    assert caught.value.do


def test_limits_hold_whatever_an_archive_says_of_itself(monkeypatch):
    """The size in the directory is a claim: here it says one byte."""
    monkeypatch.setattr(packed, "FREE", 1 << 12)
    data = zipped([("a", b"\x00" * (1 << 20))])
    lying = data.replace(struct.pack("<I", 1 << 20), struct.pack("<I", 1))
    with pytest.raises(UnreadableFile):
        read_bytes(lying, name="x.zip")
    monkeypatch.setattr(packed, "LIMIT", 5000)
    with pytest.raises(UnreadableFile, match="too much"):
        read_bytes(gzip.compress(os.urandom(1 << 13)), name="x.gz")
    monkeypatch.setattr(packed, "MEMBERS", 2)
    with pytest.raises(UnreadableFile, match="it holds 3 files, more than 2"):
        read_bytes(zipped([(n, b"x") for n in "abc"]), name="x.zip")


def test_a_locked_member_is_told_and_the_others_are_taken(tmp_path):
    data = bytearray(zipped([("a.csv", LOG), ("b.csv", LOG)]))
    data[6] |= 1  # the flag of the first local header
    data[data.find(b"PK\x01\x02") + 8] |= 1
    first, second = pieces(on_disk(tmp_path, bytes(data)))
    assert "locked with a password" in first.error
    assert not second.error
    assert second.bytes() == LOG


def test_a_damaged_member_is_told(tmp_path):
    data = bytearray(zipped([("a.csv", LOG), ("b.csv", LOG)]))
    data[60] ^= 0xFF
    first, second = pieces(on_disk(tmp_path, bytes(data)))
    assert "damaged" in first.error
    assert read_bytes(second.bytes(), name="b").cells.drop("row").rows() == list(cells())


def test_a_plain_file_is_itself(tmp_path):
    path = on_disk(tmp_path, LOG, "a.csv")
    (piece,) = pieces(path)
    assert (piece.name, piece.shown, piece.inside) == ("a.csv", str(path), "")
