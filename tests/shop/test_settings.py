"""The settings file: what it gives, and every mistake named with file, table, key and value."""

from __future__ import annotations

import datetime
import hashlib
import re
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel, ValidationError

import headlife as hl
from headlife.errors import SettingsError
from headlife.shop import Shop
from headlife.shop.work import Spares

GOOD = """
name = "Shop"
claim = { share = 0.9, confidence = 0.95 }
[columns]
head = "Serial"
[reasons.failures]
"Worn  out" = "wear"
"crash" = "damage"
[reasons.suspensions]
"swap" = "planned swap"
"material change" = "material change"
[head_types."Type 1"]
rated_hours = 1200
[head_types.B]
rated_hours = 800.5
notice_fraction = 0.8
quality_critical = true
price = 300.0
on_hand = 2
on_order = 1
[spares]
lead_time_weeks = 6
[usage]
"P 1" = 40.0
[policy]
swap_at = 900
[review]
build_hours = 48
"""


def read(text: str, tmp_path, name: str = "shop.toml"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return hl.read_shop(path)


def refusal(text: str, tmp_path) -> str:
    with pytest.raises(SettingsError, match=r"shop\.toml") as caught:
        read(text, tmp_path)
    return str(caught.value)


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_settings_of_any_computer_say_the_same(tmp_path, ends, mark):
    data = mark + GOOD.replace("\n", ends).encode()
    assert read(data, tmp_path).head_types == read(GOOD, tmp_path).head_types


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("[intake]\nmore_files = ['a.csv', \"C:\\logs\\b.csv\"]", r"needs single quotes"),
        ("[intake]\nsheet = \u201cLog\u201d", "must be straight"),
        ("[intake]\nsheet\u00a0= 'Log'", "is a no-break space"),
        ("[intake]\nsheet = Log", "a name or a text needs quotes"),
    ],
)
def test_what_an_editor_did_to_a_line_is_named(tmp_path, line, says):
    assert says in refusal(f"{GOOD}{line}\n", tmp_path)


def test_settings_as_written_and_defaults(tmp_path):
    shop = read(GOOD, tmp_path)
    assert shop.name == "Shop"
    assert (shop.claim.share, shop.claim.confidence) == (0.9, 0.95)
    assert shop.columns == {"head": "Serial"}
    assert shop.reasons.failures == {"Worn out": "wear", "crash": "damage"}
    assert shop.reasons.modes == ("wear", "damage")
    assert shop.reasons.known["worn out"] == ("failures", "wear")
    first, second = shop.head_types["Type 1"], shop.head_types["B"]
    # Common practice, no source: notice at nine tenths of the rating (1,200 h -> 1,080 h).
    assert first.notice_hours == pytest.approx(1080.0)
    assert (first.on_hand, first.price, first.quality_critical) == (0, None, False)
    assert second.notice_hours == pytest.approx(640.4)
    assert shop.spares.lead_time_weeks == 6
    assert (shop.spares.review_weeks, shop.spares.service_level) == (13.0, 0.95)
    assert shop.usage == {"P 1": 40.0}
    assert shop.policy.swap_at == 900
    assert shop.review.build_hours == 48
    assert shop.sha256 == hashlib.sha256(GOOD.encode()).hexdigest()
    assert shop.path == str(tmp_path / "shop.toml")


def test_settings_cannot_be_changed_once_read(tmp_path):
    shop = read(GOOD, tmp_path)
    with pytest.raises(ValidationError, match="frozen"):
        shop.spares.service_level = 0.5


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path):
    plain = read(GOOD, tmp_path)
    marked = read(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode(), tmp_path)
    assert marked.model_dump() == plain.model_dump()


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "rated_hours = 1200",
            "rated_hours = 0",
            r'\[head_types\."Type 1"\] rated_hours = 0 .* above zero',
        ),
        ("rated_hours = 1200", "rated_hours = -5", r"rated_hours = -5 .* above zero"),
        ("rated_hours = 1200", "rated_hours = inf", r"rated_hours = inf .* above zero"),
        ("rated_hours = 1200", "rated_hours = nan", r"rated_hours = nan .* above zero"),
        ("rated_hours = 1200", 'rated_hours = "1200"', r"rated_hours = '1200' .* plain number"),
        ("rated_hours = 1200", "rated_hours = true", r"rated_hours = True .* plain number"),
        (
            "rated_hours = 1200",
            "rated_hour = 1200",
            r"does not know 'rated_hour' \(did you mean 'rated_hours'\?\)",
        ),
        (
            "lead_time_weeks = 6",
            "lead_time_weeks = 6\nservice_level = 95",
            r"\[spares\] service_level = 95 .* 0\.95 for 95 percent",
        ),
        ("lead_time_weeks = 6", "", r"\[spares\] lacks the key 'lead_time_weeks'"),
        ("share = 0.9", "share = 1.0", r"\[claim\] share = 1\.0 .* between 0 and 1"),
        ('"P 1" = 40.0', '"P 1" = -1', r"\[usage\] P 1 = -1 .* between 0 and 168"),
        ('"P 1" = 40.0', '"P 1" = 169', r"P 1 = 169 .* between 0 and 168"),
        ("swap_at = 900", "swap_at = -1", r"\[policy\] swap_at = -1 .* hours above zero"),
        (
            "[usage]",
            "[plans.Autumn]\nfactor = 20\nbegins = 2026-10-01\n[usage]",
            r"factor = 20 .* from 0 to 10: .* 1\.2 a fifth more",
        ),
        ("swap_at = 900", 'swap_at = "ratng"', r'swap_at = \'ratng\' .* "rating"'),
        ("on_hand = 2", "on_hand = 2.5", r"\[head_types\.B\] on_hand = 2\.5 .* whole number"),
        ("quality_critical = true", 'quality_critical = "yes"', r"quality_critical .* true or fal"),
        ("[review]", "[revew]", r"does not know 'revew' \(did you mean 'review'\?\)"),
        ('head = "Serial"', 'haed = "Serial"', r"'haed' is not a standard .* mean 'head'\?"),
        ('"crash" = "damage"', '"SWAP " = "damage"', r"'swap' stands in \[reasons\.failures\]"),
        ('"crash" = "damage"', '" " = "damage"', r"empty reason; .* still in service"),
        ('"Worn  out" = "wear"', '"Worn  out" = "waer"', r"primary_mode = 'wear' is none"),
        ("build_hours = 48", "build_hours = 0", r"\[review\] build_hours = 0 .* above zero"),
        ("build_hours = 48", "draws = 5", r"\[review\] draws = 5 .* 100 or more"),
        ("build_hours = 48", 'set_aside = "no"', r'set_aside = \'no\' .* "stop" or "continue"'),
        (
            "[reasons.failures]",
            '[reasons]\nreusable = ["materal change"]\n[reasons.failures]',
            r"reusable names 'materal change' \(did you mean 'material change'\?\)",
        ),
        ("[columns]", '[intake]\ndecimal = "x"\n[columns]', r"\[intake\] decimal = 'x' .* \",\""),
        ("[columns]", '[intake]\ndate_format = "%d.%m"\n[columns]', r"day, month and year"),
        ("[columns]", '[intake]\nencoding = "nope"\n[columns]', r"no such encoding"),
        ("[columns]", '[columns]\ndate_in = "Date"\ndate_out = "date"', "one column cannot say"),
    ],
)
def test_each_mistake_is_one_sentence(old, new, sentence, tmp_path):
    said = refusal(GOOD.replace(old, new, 1), tmp_path)
    assert re.search(sentence, said), said
    assert len(said.splitlines()) == 1
    assert said.endswith(".")


def test_all_mistakes_are_named_at_once(tmp_path):
    text = GOOD.replace("= 1200", "= 0").replace("= 6", "= -6").replace("48", "-48")
    assert len(refusal(text, tmp_path).splitlines()) == 3


@pytest.mark.parametrize("table", ["reasons", "head_types", "spares"])
def test_a_missing_table_is_named(table, tmp_path):
    kept = [part for part in re.split(r"(?m)^(?=\[)", GOOD) if not part.startswith(f"[{table}")]
    assert f"lacks the table '{table}'" in refusal("".join(kept), tmp_path)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("name = \n", r"line 1"),
        ('name = "a"\n[x\n', r"line 2"),
        ('name = "a"\nname = "b"\n', r"line 2"),
        (b'name = "a"\n# caf\xe9\n', r"line 2: the settings are not written in UTF-8"),
        ("a = " + "[" * 5000, r"settings"),
        ("\x00", r"line 1"),
    ],
)
def test_broken_toml_is_named_with_its_line(text, sentence, tmp_path):
    assert re.search(sentence, refusal(text, tmp_path))


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(SettingsError, match=r"settings file .*nowhere\.toml.*check its name"):
        hl.read_shop(tmp_path / "nowhere.toml")
    with pytest.raises(SettingsError, match="is a folder"):
        hl.read_shop(tmp_path)


def ordering(order: str) -> str:
    return GOOD.replace("on_order = 1", f'orders."47-11" = {{ {order} }}')


def test_orders_name_their_site_and_day(tmp_path):
    text = ordering('heads = 2, site = "North", due = 2026-11-02')
    ordered = read(text.replace("[spares]", "orders.later = { heads = 3 }\n[spares]"), tmp_path)
    orders = ordered.head_types["B"].open_orders
    assert list(orders) == ["47-11", "later"]
    assert (orders["47-11"].heads, orders["47-11"].site) == (2, "North")
    assert orders["47-11"].due == datetime.date(2026, 11, 2)
    assert (orders["later"].site, orders["later"].due) == (None, None)
    assert ordered.head_types["B"].heads_on_order == 5
    # The short form is one order without a site; no order at all is none.
    short = read(GOOD, tmp_path)
    assert [o.heads for o in short.head_types["B"].open_orders.values()] == [1]
    assert short.head_types["B"].heads_on_order == 1
    assert short.head_types["Type 1"].open_orders == {}


@pytest.mark.parametrize(
    ("order", "said"),
    [
        ("heads = 0", "heads = 0 cannot be used; write a whole number of heads, 1 or more"),
        ('site = "North"', r'\[head_types.B.orders."47-11"\] lacks the key .heads.'),
        ('heads = 1, due = "soon"', "due = 'soon' cannot be used; write a day without quotes"),
        ('heads = 1, sight = "North"', r"does not know .sight. \(did you mean .site.\?\)"),
    ],
)
def test_an_order_that_cannot_be_used_is_named(order, said, tmp_path):
    assert re.search(said, refusal(ordering(order), tmp_path))


def test_heads_on_order_are_stated_once(tmp_path):
    twice = GOOD.replace("on_order = 1", "on_order = 1\norders.later = { heads = 1 }")
    assert "the same heads twice (orders: later)" in refusal(twice, tmp_path)


HERON = 'begins = 2026-12-01\nweekly_hours = 30\nmodel = "B"\nsupport = "Type 1"'


def expecting(printer: str) -> str:
    return f'{GOOD}[new_printers."Heron"]\n{printer}\n'


def test_new_printers_as_written(tmp_path):
    assert read(GOOD, tmp_path).new_printers == {}
    heron = read(expecting(HERON + '\nsite = "North"'), tmp_path).new_printers["Heron"]
    assert heron.begins == datetime.date(2026, 12, 1)
    assert (heron.weekly_hours, heron.model, heron.support) == (30.0, "B", "Type 1")
    assert heron.site == "North"


@pytest.mark.parametrize(
    ("line", "instead", "said"),
    [
        ("weekly_hours = 30", "", "lacks the key 'weekly_hours'; write print hours a week"),
        ("= 30", "= -1", "weekly_hours = -1 cannot be used; write print hours a week"),
        ("= 30", "= 169", "weekly_hours = 169 cannot be used; write print hours a week"),
        ("2026-12-01", '"soon"', "begins = 'soon' cannot be used; write a day without quotes"),
        ("2026-12-01", "2026-12-01T08:00:00", "cannot be used; write a day without quotes"),
        ("2026-12-01", "2026-02-30", "Invalid date"),
        ("begins = 2026-12-01", "", "lacks the key 'begins'; write a day without quotes"),
        ('"Type 1"', '"Type1"', "support = 'Type1' is no head type of [head_types] (did you mean "),
        ('model = "B"', "", "lacks the key 'model'"),
    ],
)
def test_a_new_printer_that_cannot_be_used_is_named(line, instead, said, tmp_path):
    assert line in HERON
    assert said in refusal(expecting(HERON.replace(line, instead)), tmp_path)


REFERENCE = Path(__file__).parents[2] / "shared" / "settings.md"


def keys_of(model):
    """Every key of a table of the settings and of the tables in it."""
    for name, field in model.model_fields.items():
        yield field.alias or name
        for part in parts_in(field.annotation):
            yield from keys_of(part)


def parts_in(annotation):
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from parts_in(inner)


def test_the_reference_names_every_key():
    text = re.sub(r"```.*?```", "", REFERENCE.read_text(encoding="utf-8"), flags=re.DOTALL)
    quoted = set(re.findall(r"[a-z_]+", " ".join(re.findall(r"`[^`]+`", text))))
    assert set(keys_of(Shop)) - quoted == set()
    # Nor does it name one that is not there.
    cells = " ".join(re.findall(r"^\|([^|]*)\|", text, flags=re.MULTILINE))
    assert set(re.findall(r"`([a-z_]+)`", cells)) - set(keys_of(Shop)) == set()


def test_the_examples_of_the_reference_load(tmp_path):
    examples = re.findall(r"```toml\n(.*?)```", REFERENCE.read_text(encoding="utf-8"), re.DOTALL)
    assert len(examples) == 4
    text = 'name = "S"\n[reasons.failures]\n"worn" = "wear"\n[spares]\nlead_time_weeks = 6\n'
    text += '[head_types."Standard"]\nrated_hours = 1200\n' + "\n".join(examples)
    shop = read(text, tmp_path)
    assert shop.head_types["Fibre"].heads_on_order == 3
    assert list(shop.plans) == ["winter break"]
    assert shop.review.divisions == (("lot",), ("vendor", "site"))
    assert shop.new_printers["Linnet"].weekly_hours == 40
    assert [day.isoformat() for day, _ in shop.policy.rules[1:]] == ["2025-04-01"]


# Every key of the reference, written as a shop writes it; some exclude each other.
EVERY_KEY = (
    """
name = "Hall"
claim = { share = 0.8, confidence = 0.9 }
[intake]
hours = "printer"
hours_of = { "P2" = "head" }
meter_changes = [{ printer = "P1", on = 2026-02-03, last = 812, first = 0 }]
readings = { file = "meters.xlsx", sheet = "S", date = "Day", printer = "P", printer_hours = "h" }
weekly_hours = 30
usage_range = 0.2
as_of = 2026-09-30
shape = "events"
sheets = ["A", "B"]
sheet_is = "printer"
more_files = ["older.csv"]
header_row = 3
fill_down = ["printer"]
only = { "Work" = ["Head swap"] }
always = { site = "North" }
events = { "in" = "installed", "out" = "removed" }
date_order = "day first"
languages = ["cs"]
decimal = ","
unit = "minutes"
blank = ["n/a"]
delimiter = ";"
encoding = "cp1252"
[columns]
head = "Serial"
[own_columns]
crew = "Crew"
[roles]
"M" = "model"
[positions]
"L" = "model"
[reasons]
reusable = ["planned swap"]
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
[reasons.looked_bad]
"ugly" = "wear"
[reasons.may_have_failed]
"?" = "wear"
[head_types."A"]
rated_hours = 1000
earlier_ratings = [{ bought_before = 2025-01-01, rated_hours = 800 }]
notice_fraction = 0.8
quality_critical = true
warranty_hours = 500
warranty_months = 12
price = 300
on_hand = 2
on_order = 1
on_order_due = 2026-11-02
[head_types."B"]
rated_hours = 900
orders."17" = { heads = 2, site = "North", due = 2026-11-02 }
[spares]
lead_time_weeks = 6
review_weeks = 13
service_level = 0.9
past_lead_times_weeks = [5, 7, 6.5, 16]
order_days = ["12-15"]
order_multiple = 2
use_shelf = false
[usage]
"P1" = 40
[policy]
swap_at = { jobs = 12 }
join_from = "notice"
between_builds = true
build_hours = 80
confirmed = true
roles."support" = { swap_at = "failure" }
head_types."B" = { swap_at = 700 }
printers."P1" = { join_from = 500 }
[policy.from.2026-01-01]
swap_at = "rating"
[costs]
currency = "EUR"
fiscal_year_begins = "April"
labour_per_hour = 40
machine_hour_rate = 9
swap_labour_hours = 0.3
calibration_hours = 0.5
manual_checks = 2
manual_check_hours = 0.4
scrapped_build_cost = 240
late_day_cost = 100
waiting_hours_per_stockout = 60
carrying_cost_per_head_year = 40
[printers."P1"]
quality_critical = true
[plans."stop"]
factor = 0
begins = 2026-12-21
ends = 2027-01-03
printer = "P1"
[order_book."jobs"]
hours = 900
begins = 2026-10-01
ends = 2026-12-12
head_type = "A"
[new_printers."P9"]
begins = 2026-12-01
weekly_hours = 40
model = "A"
support = "B"
site = "North"
[review]
build_hours = 60
draws = 500
seed = 7
primary_mode = "wear"
groups = ["vendor", ["lot", "crew"]]
set_aside = "continue"
""",
    """
name = "Hall"
[intake]
sheet = "Log"
date_format = "%d.%m.%Y"
shape = "printers"
groups."left" = { head = "Head left" }
[reasons.failures]
"worn" = "wear"
[head_types."A"]
rated_hours = 1000
on_hand_by_site = { "North" = 1, "South" = 0 }
[spares]
lead_time_weeks = 6
lead_time_sd_weeks = 1.5
sites = "separate"
""",
    """
name = "Hall"
[intake]
wide = "hours"
without_serials = true
[reasons.failures]
"worn" = "wear"
[head_types."A"]
rated_hours = 1000
[spares]
lead_time_weeks = 6
""",
)


def written_keys(model, table):
    """Keys of a table of the settings that a text writes, as `keys_of` names them."""
    for name, field in model.model_fields.items():
        key = field.alias or name
        if key not in table:
            continue
        yield key
        parts = list(parts_in(field.annotation))
        inner = table[key]
        many = inner if isinstance(inner, list) else list(inner.values()) if parts else []
        for part in parts:
            fields = {one.alias or other for other, one in part.model_fields.items()}
            for one in [inner, *many]:
                if isinstance(one, dict) and fields & set(one):
                    yield from written_keys(part, one)


def test_every_key_of_the_reference_can_be_written_in_a_file(tmp_path):
    """What stands in the file is what the shop holds; a list of past lead times never loaded."""
    written = set()
    for text in EVERY_KEY:
        shop = read(text, tmp_path)
        written |= set(written_keys(Shop, tomllib.loads(text)))
        assert not shop.to_do
    assert written == set(keys_of(Shop))
    first = read(EVERY_KEY[0], tmp_path)
    assert list(first.spares.past_lead_times_weeks) == [5.0, 7.0, 6.5, 16.0]


def test_the_next_order_day_is_the_first_one_after_the_day():
    spares = Spares(lead_time_weeks=6, order_days=["12-15", "02-29"])
    days = [
        spares.next_order_day(datetime.date(2026, 12, 14) + datetime.timedelta(days=ahead))
        for ahead in (0, 1, 76)
    ]
    # No 29 February in 2027, but in 2028.
    assert days == [
        datetime.date(2026, 12, 15),
        datetime.date(2027, 2, 28),
        datetime.date(2027, 12, 15),
    ]
    assert spares.next_order_day(datetime.date(2028, 2, 28)) == datetime.date(2028, 2, 29)
    assert spares.weeks_to_next_order(datetime.date(2026, 12, 1)) == 2.0
    without = Spares(lead_time_weeks=6, review_weeks=9)
    assert without.next_order_day(datetime.date(2026, 12, 1)) is None
    assert without.weeks_to_next_order(datetime.date(2026, 12, 1)) == 9.0


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("lead_time_weeks", "lead_time_weeks = 5000", "lead_time_weeks = 5000"),
        ("lead_time_weeks", "lead_time_weeks = 6\nreview_weeks = 1e9", "520 at most"),
        ("lead_time_weeks", "lead_time_weeks = 6\nlead_time_sd_weeks = 1e9", "520 at most"),
        ("lead_time_weeks", "lead_time_weeks = 6\norder_multiple = 9000000000", "100,000 at most"),
        ("on_hand", f"on_hand = {2**63 - 1}", "100,000 at most"),
        ("lead_time_weeks", 'lead_time_weeks = 6\norder_days = ["12-32"]', "15 December"),
        ("lead_time_weeks", 'lead_time_weeks = 6\norder_days = ["December"]', "15 December"),
    ],
)
def test_numbers_that_no_shop_has_are_refused_before_they_fill_the_memory(tmp_path, old, new, said):
    lines = GOOD.splitlines()
    place = next(k for k, line in enumerate(lines) if line.startswith(f"{old} ="))
    lines[place] = new
    (tmp_path / "shop.toml").write_text("\n".join(lines))
    with pytest.raises(SettingsError, match=said):
        hl.read_shop(tmp_path / "shop.toml")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("rated_hours = 1e-320", "write hours above zero"),
        ("rated_hours = 1e308", "write hours above zero"),
        ("price = 1e308", "write a price of 0 or more"),
    ],
)
def test_a_number_that_no_shop_has_is_refused(line, says, tmp_path):
    # They were carried on with: warnings of the number library, and another reason.
    path = tmp_path / "shop.toml"
    path.write_text(
        re.sub(
            rf"(?m)^{line.split()[0]} = .*$",
            line,
            (Path(__file__).parents[2] / "data_demo" / "shop.toml").read_text(),
            count=1,
        )
    )
    with pytest.raises(SettingsError, match=says):
        hl.read_shop(path)


@pytest.mark.parametrize(
    "text",
    [
        "a." * 50_000 + "b = 1",
        "[" + "a." * 50_000 + "b]",
        "a = " + "[" * 100_000,
        "a = " + "9" * 10_000,  # a traceback, of Python's own bound on digits
        "\n".join(f"k{k} = 1" for k in range(50_000)),
        "x" * 1_000_000 + " = 1",
        "# " + "x" * 5_000_000,
    ],
)
def test_endless_settings_are_refused_shortly(text, tmp_path):
    # A name of 50,000 names took 50 s and ended in a traceback; 200,000 keys made as many lines.
    path = tmp_path / "shop.toml"
    path.write_text(text)
    with pytest.raises(SettingsError) as refused:
        hl.read_shop(path)
    assert len(str(refused.value)) < 20_000
