"""For the vendor: what is told, and that nothing else of the shop is."""

from __future__ import annotations

import csv
import io
import json

import pytest
from tests.show.conftest import DEMO

import headlife as hl
from headlife.cli import main
from headlife.errors import HeadlifeError
from headlife.show.vendor.page import vendor_page
from headlife.show.vendor.values import vendor_values

# Every name and number that is the shop's own begins with ZZ or holds 77777.
SETTINGS = """
name = "ZZshop"
[reasons.failures]
"ZZreason" = "wear"
"ZZfell" = "damage"
[reasons.suspensions]
"ZZswap" = "planned swap"
[head_types."A"]
rated_hours = 500
price = 77777.25
on_hand = 7
warranty_hours = 300
warranty_months = 6
[head_types."ZZother"]
rated_hours = 321
[spares]
lead_time_weeks = 4
[policy]
swap_at = 477.77
[costs]
currency = "ZZmoney"
labour_per_hour = 77777.5
[own_columns]
operator = "operator"
[review]
draws = 200
"""
HEADER = (
    "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason,site,note,"
    "lot,vendor,date_bought,operator,material\n"
)
TAIL = "ZZsite,ZZnote,{lot},{vendor},{bought},ZZperson,ZZmaterial"


def row(head, start, end, hours, reason="", lot="L1", vendor="Acme", bought="", kind="A"):
    tail = TAIL.format(lot=lot, vendor=vendor, bought=bought)
    printer = f"ZZ{head}"
    return f"{head},{kind},model,{printer},ZZleft,{start},0,{end},{hours},{reason},{tail}"


ROWS = [
    row("H1", "2025-01-01", "2025-03-01", 200, "ZZreason"),  # within both
    row("H2", "2025-01-01", "2025-09-01", 250, "ZZreason"),  # hours within, months not
    row("H3", "2025-01-01", "2025-05-01", 400, "ZZreason"),  # months within, hours not
    row("H4", "2025-01-01", "2025-02-01", 100, "ZZfell"),  # the shop's own doing
    row("H5", "2025-01-01", "2025-06-30", 450, "ZZswap"),
    row("H6", "2025-03-01", "2025-08-20", 260, "ZZreason", bought="2025-02-21"),  # last day
    row("H7", "2025-03-01", "2025-08-20", 260, "ZZreason", bought="2025-02-01"),  # too old
    row("H8", "2025-01-01", "2025-12-31", 700, ""),
]


@pytest.fixture
def case(tmp_path):
    def make(rows=ROWS, settings=SETTINGS):
        (tmp_path / "ZZshop.toml").write_text(settings)
        (tmp_path / "ZZlog.csv").write_text(HEADER + "\n".join(rows) + "\n")
        return hl.read_case(tmp_path / "ZZlog.csv", tmp_path / "ZZshop.toml")

    return make


def test_nothing_else_of_the_shop_is_told_anywhere(case, tmp_path, capsys):
    case([*ROWS, row("ZZx", "2025-01-01", "2025-12-31", 99, "", kind="ZZother")])
    files = ["vendor", str(tmp_path / "ZZlog.csv"), "--shop", str(tmp_path / "ZZshop.toml")]
    where = {"--out": tmp_path / "page.html", "--csv": tmp_path / "heads.csv"}
    options = [part for name, path in where.items() for part in (name, str(path))]
    assert main([*files, "--type", "A", *options]) == 0
    screen = capsys.readouterr().out.split("Heads that failed within the warranty: ")[0]
    assert main([*files, "--type", "A", "--json"]) == 0
    told = [screen, capsys.readouterr().out, *(path.read_text() for path in where.values())]
    for text in told:
        # The look of pages is headlife's own, the same for every shop.
        text = text.split("</style>")[-1]
        assert "H1" in text
        for secret in ("ZZ", "77777", "477", "477.77", "321", "planned swap", "swap"):
            assert secret not in text, secret


# Everything that a review may be asked to divide heads by, the shop's own affairs among it.
GROUPS = (
    '[review]\ngroups = ["lot", "site", "material", "printer", "operator", ["lot", "site"], '
    '"vendor", "purchase_year"]'
)
TWO_LOTS = [
    *ROWS,
    *(row(f"N{n}", "2025-09-01", "2025-12-01", 90 + n, "ZZreason", lot="L2") for n in range(5)),
]


def test_lots_are_told_and_nothing_that_the_shop_tells_heads_apart_by(case, tmp_path, capsys):
    case(TWO_LOTS, SETTINGS.replace("[review]", GROUPS))
    files = ["vendor", str(tmp_path / "ZZlog.csv"), "--shop", str(tmp_path / "ZZshop.toml")]
    page = tmp_path / "page.html"
    assert main([*files, "--type", "A", "--out", str(page)]) == 0
    screen = capsys.readouterr().out.split("The page: ")[0]
    assert main([*files, "--type", "A", "--json"]) == 0
    values = capsys.readouterr().out
    told = json.loads(values)["divided"]
    # By purchase year they are of one part.
    assert [one["columns"] for one in told] == [["lot"]]
    assert [one["part"] for one in told[0]["parts"]] == ["lot L2", "lot L1"]
    assert told[0]["parts"][0]["name"] == "lot L2, bought now"
    for text in (screen, values, page.read_text().split("</style>")[-1]):
        assert "lot L2" in text and "bought" in text
        for secret in ("zz", "77777", "477.77", "planned swap", "material", "operator"):
            assert secret not in text.lower(), secret


def test_the_verdicts_on_lots_are_the_reviews(case):
    lots = SETTINGS.replace("[review]", '[review]\ngroups = ["lot"]')
    rows = [row(f"O{n}", "2024-01-01", "2024-09-01", 480 + 5 * n, "ZZswap") for n in range(20)]
    shop_case = case([*TWO_LOTS, *rows], lots)
    review = hl.quarterly_review(shop_case)
    (division,) = review.divisions
    (divided,) = hl.vendor_statement(shop_case, "A").divided
    assert divided.comparison == division.comparison
    told = {one.part: one for one in divided.parts}
    for part in division.parts:
        one = told[part.group.part]
        assert one.verdict == part.verdict
        assert one.stated == review.stated_verdict(part)
        assert (one.heads, one.too_young) == (part.heads, part.too_young)
    assert {one.part for one in divided.parts if one.bought_now} == {
        one.group.part for one in division.bought_now
    }
    assert sum(one.before_rating for one in divided.parts) == len(
        hl.vendor_statement(shop_case, "A").early
    )


def test_a_vendor_among_several_is_not_told_whether_it_is_bought_now(case):
    lots = SETTINGS.replace("[review]", '[review]\ngroups = ["lot"]')
    newer = [
        row(f"B{n}", "2025-11-01", "2025-12-01", 99, "", lot="X9", vendor="Other") for n in range(9)
    ]
    mixed = case([*TWO_LOTS, *newer], lots)
    said = hl.vendor_statement(mixed, "A", "Acme")
    text = json.dumps(vendor_values(said))
    assert "X9" not in text and "Other" not in text and "bought now" not in text
    assert "lot L2, the newest" in text
    # As if the other vendor's heads were not on record.
    (alone,) = hl.vendor_statement(case(TWO_LOTS, lots), "A").divided
    for one, other in zip(said.divided[0].parts, alone.parts, strict=True):
        assert (one.part, one.verdict) == (other.part, other.verdict)


def test_failures_before_the_rating_and_within_the_warranty_are_told_apart(case):
    said = hl.vendor_statement(case(), "A")
    assert said.early["head"].tolist() == ["H1", "H3", "H6", "H7", "H2"]
    assert said.warranted["head"].tolist() == ["H1", "H6"]
    (role,) = said.roles
    assert (role.heads, role.failures, role.before_rating) == (8, 5, 5)
    assert role.print_hours == pytest.approx(200 + 250 + 400 + 100 + 450 + 260 + 260 + 700)


def test_the_verdict_is_the_reviews(case):
    demo = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    review = hl.quarterly_review(demo.with_(review={"draws": 500}))
    for head_type in ("Fibre", "Standard"):
        said = {one.role: one for one in hl.vendor_statement(demo, head_type).roles}
        for stratum in (one for one in review.strata if one.head_type == head_type):
            assert said[stratum.role].verdict == stratum.verdict
            assert said[stratum.role].stated == review.standings[stratum.group].verdict


def test_no_warranty_stated_is_no_list(case):
    plain = SETTINGS.replace("warranty_hours = 300", "").replace("warranty_months = 6", "")
    said = hl.vendor_statement(case(settings=plain), "A")
    assert said.warranted.empty
    assert "warranty" not in vendor_page(said).html().split("</style>")[1].lower()


def test_one_vendor_is_not_told_of_anothers_heads(case):
    rows = [*ROWS, row("B1", "2025-01-01", "2025-03-01", 111, "ZZreason", "L2", "Other vendor")]
    mixed = case(rows)
    with pytest.raises(HeadlifeError, match="several vendors.*--vendor"):
        hl.vendor_statement(mixed, "A")
    values = json.dumps(vendor_values(hl.vendor_statement(mixed, "A", "Acme")))
    assert "B1" not in values and "L2" not in values and "Other" not in values
    with pytest.raises(HeadlifeError, match="did you mean 'Acme'"):
        hl.vendor_statement(mixed, "A", "Acmee")


def test_a_head_type_that_is_none_is_named(case):
    with pytest.raises(HeadlifeError, match="'B' is no head type"):
        hl.vendor_statement(case(), "B")


def test_the_list_of_heads_is_typed_and_safe(case, tmp_path):
    from headlife.show.vendor.table import warranty_csv

    rows = [row("=1+1", "2025-01-01", "2025-03-01", 200, "ZZreason"), *ROWS[1:]]
    table = list(
        csv.reader(
            io.StringIO(warranty_csv(hl.vendor_statement(case(rows), "A")).decode("utf-8-sig"))
        )
    )
    assert table[1][0] == "'=1+1"
    assert table[1][3:6] == ["2025-01-01", "2025-03-01", "200.0"]
