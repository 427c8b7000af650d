"""The encoding of a CSV: certain, or likely and then asked."""

from __future__ import annotations

import bz2
import csv
import gzip
import io
import lzma

import pytest
from tests.records.small_shop import COLUMNS, as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.encodings import certain_encoding, likely_encoding
from headlife.shop.columns import COLUMNS as STANDARD

# Words of each language that need more than ASCII, and encodings its programs wrote or write.
WORDS = {
    "de": ("Düse verschlissen; größer", "cp1252 cp850 mac_roman"),
    "fr": ("usée; bouchée; changement de matière", "cp1252 mac_roman"),
    "es": ("obstrucción; dañado", "cp1252"),
    "it": ("qualità scarsa; è ostruita", "cp1252"),
    "nl": ("één; geïnstalleerd", "cp1252"),
    "pl": ("zużyta; pęknięta głowica", "cp1250 cp852"),
    "pt": ("posição; não; troca à mão", "cp1252"),
    "ja": ("摩耗; 詰まり; 材料変更", "cp932 euc_jp iso2022_jp"),
}
CASES = [(language, name) for language, (_, names) in WORDS.items() for name in names.split()]


def text_in(language):
    header = ",".join(column.words.get(language, ("x",))[0] for column in STANDARD.values())
    return f"{header}\r\n{WORDS[language][0]},12.03.2025,7\r\n"


@pytest.mark.parametrize(("language", "encoding"), CASES)
def test_the_likely_encoding_gives_the_text_back(language, encoding, tmp_path):
    text = text_in(language)
    (tmp_path / "log.csv").write_bytes(text.encode(encoding))
    assert text.encode(encoding).decode(likely_encoding(tmp_path / "log.csv")) == text


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("language", WORDS)
def test_unicode_is_certain_with_and_without_a_mark(language, encoding, tmp_path):
    text = text_in(language)
    (tmp_path / "log.csv").write_bytes(text.encode(encoding))
    certain = certain_encoding(tmp_path / "log.csv") or "utf-8"
    assert text.encode(encoding).decode(certain) == text
    assert likely_encoding(tmp_path / "log.csv") is None


@pytest.mark.parametrize("stated", ["", '[intake]\nencoding = "utf-16"'])
def test_utf_16_without_a_mark_is_read(stated, read, shop_with):
    records = read(as_csv(rows_of()).encode("utf-16-le"), shop_with(stated))
    assert len(records.accepted) == 5


def test_another_encoding_is_asked_with_the_line_to_write(read, shop_with):
    rows = rows_of()
    rows[0]["note"] = "zużyta"
    text = as_csv(rows).encode("cp1250")
    with pytest.raises(RecordsError, match=r'\[intake\] encoding = "cp1250"'):
        read(text)
    assert read(text, shop_with('[intake]\nencoding = "cp1250"')).accepted["note"][0] == "zużyta"


def test_a_stray_quotation_mark_that_swallows_rows_is_named(read):
    lines = as_csv(rows_of()).splitlines()
    lines[1] = lines[1].rstrip(",") + ',"'  # opened and not meant
    lines[4] += '"'
    with pytest.raises(RecordsError, match=r"row 2: .* takes in 3 more lines that look like rows"):
        read("\n".join(lines))


def test_a_remark_of_several_lines_swallows_nothing(read):
    rows = rows_of()
    rows[0]["note"] = "cleaned, checked,\nput back, twice"
    records = read(rows)
    assert len(records.accepted) == 5
    assert records.rows_read == 5


def test_records_above_a_header_that_was_sorted_into_the_table_are_read(read):
    lines = as_csv(rows_of()).splitlines()
    records = read("\n".join([lines[1], lines[2], lines[0], *lines[3:]]))
    assert records.rows_read == 5
    assert records.accepted["row"].tolist() == [1, 2, 4, 5, 6]


def test_a_title_above_the_header_is_no_record(read):
    title = io.StringIO()
    csv.writer(title).writerow(["Head log 2025", "", "", "kept since 2019"])
    assert read(title.getvalue() + as_csv(rows_of(), COLUMNS)).rows_read == 5


@pytest.mark.parametrize(
    ("begin", "says"),
    [
        (gzip.compress(b"head", mtime=0), "is packed; unpack it"),
        (bz2.compress(b"head"), "is packed; unpack it"),
        (lzma.compress(b"head"), "is packed; unpack it"),
        (b"%PDF-1.7\n%\xe2\xe3", "is a PDF and no table"),
        (b"\x89PNG\r\n\x1a\n", "is a picture and no table"),
        (b"SQLite format 3\0", "is a database and no table"),
    ],
)
@pytest.mark.parametrize("name", ["log.csv", "log.csv.gz"])
def test_a_file_that_is_no_table_is_called_what_it_is(begin, says, name, shop, tmp_path):
    # It was called a text in another encoding, with a line to write in the settings.
    (tmp_path / name).write_bytes(begin + bytes(range(256)) * 4)
    with pytest.raises(RecordsError, match=says):
        hl.read_records(tmp_path / name, shop)


@pytest.mark.parametrize("encoding", ["utf-32", "utf-32-be"])
def test_utf_32_with_its_mark_is_read(encoding, shop, tmp_path):
    text = (as_csv(rows_of())).encode(encoding)
    mark = b"" if encoding == "utf-32" else b"\0\0\xfe\xff"
    (tmp_path / "log.csv").write_bytes(mark + text)
    assert len(hl.read_records(tmp_path / "log.csv", shop).accepted) == len(rows_of())
