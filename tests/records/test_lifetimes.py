"""A plain table of lifetimes: what it may hold, and every fault named with its row."""

from __future__ import annotations

import re

import pytest

from headlife.errors import RecordsError
from headlife.records.lifetimes import read_lifetimes


def read(text: str, tmp_path):
    path = tmp_path / "lives.csv"
    path.write_text(text)
    return read_lifetimes(path)


def test_all_columns(tmp_path):
    table = read(
        "Hours,failed,count,entry hours,group\n100.5,1,3,0,a\n200,no,,50,\n300,TRUE,0,,b\n",
        tmp_path,
    )
    assert table["hours"].tolist() == [100.5, 200.0, 300.0]
    assert table["failed"].tolist() == [True, False, True]
    assert table["count"].tolist() == [3, 1, 0]
    assert table["entry_hours"].tolist() == [0.0, 50.0, 0.0]
    assert table["group"].tolist() == ["a", "all heads", "b"]


def test_only_the_needed_columns(tmp_path):
    table = read("hours;failed\n5;yes\n", tmp_path)
    assert table.iloc[0].tolist() == [5.0, True, 1, 0.0, "all heads"]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("x,1,1,0", r"row 3, hours 'x' is not a number"),
        ("-4,1,1,0", r"row 3, hours '-4' is negative"),
        ("0,1,1,0", r"row 3, hours '0' is 0"),
        (",1,1,0", r"row 3, hours '' is blank"),
        ("9,2,1,0", r"row 3, failed '2' is neither yes nor no"),
        ("9,,1,0", r"row 3, failed '' is neither"),
        ("9,1,1.5,0", r"row 3, count '1\.5' is not a count"),
        ("9,1,-1,0", r"row 3, count '-1' is not a count"),
        ("9,1,\u0663,0", r"row 3, count .* is not a count"),
        ("9,1,99999999999999,0", r"more heads than anyone has"),
        ("9,1,1,9", r"row 3, entry_hours '9' is not below hours '9'"),
        ("9,1,1,-1", r"row 3, entry_hours '-1' is negative"),
        ("9,1,1,0,5", r"row 3: the row has 5 cells"),
    ],
)
def test_each_fault_is_named(line, sentence, tmp_path):
    with pytest.raises(RecordsError, match=r"lives\.csv") as caught:
        read(f"hours,failed,count,entry_hours\n10,0,1,0\n{line}\n", tmp_path)
    assert re.search(sentence, str(caught.value))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "the file is empty"),
        ("hours,failed\n", "has no lives"),
        ("hours,failed,count\n5,1,0\n", "has no lives"),
        ("hours,faild\n5,1\n", r"'failed' \(did you mean 'faild'\?\)"),
        ("hours,failed,hours\n5,1,2\n", "stands 2 times"),
    ],
)
def test_what_concerns_the_whole_table(text, sentence, tmp_path):
    with pytest.raises(RecordsError, match=sentence):
        read(text, tmp_path)


def test_many_faults_stop_after_twenty(tmp_path):
    with pytest.raises(RecordsError, match="5 more values of lives.csv"):
        read("hours,failed\n" + "x,1\n" * 25, tmp_path)
