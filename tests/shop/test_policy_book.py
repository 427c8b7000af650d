"""Which policy holds for which head on which day, and every mistake in it as one sentence."""

from __future__ import annotations

import datetime
import math
import re

import pandas as pd
import pytest

import headlife as hl
from headlife.errors import DecisionError, SettingsError
from headlife.shop.policy_book import policies_on

SHOP = """
name = "Shop"
[reasons.failures]
"worn" = "wear"
[head_types."Standard"]
rated_hours = 1200
[head_types."Fibre"]
rated_hours = 800
quality_critical = true
[printers."Otter"]
quality_critical = true
[spares]
lead_time_weeks = 6
[policy]
"""
HISTORY = """
swap_at = "failure"
head_types."Fibre" = { swap_at = "rating" }
[policy.from.2024-07-01]
swap_at = "notice"
printers."Otter" = { swap_at = 700 }
[policy.from.2025-04-01]
swap_at = 1000
join_from = "notice"
roles.support = { swap_at = { jobs = 9 }, build_hours = 100 }
"""


def shop(policy, tmp_path):
    (tmp_path / "shop.toml").write_text(SHOP + policy)
    return hl.read_shop(tmp_path / "shop.toml")


def test_the_policy_of_a_day_and_of_a_head(tmp_path):
    settings = shop(HISTORY, tmp_path)

    def out(day, *head):
        return policies_on(settings, datetime.date.fromisoformat(day)).of(*head).comes_out_at

    assert out("2024-06-30", "Standard") == math.inf
    assert out("2024-07-01", "Standard") == 1080.0  # from that day on
    assert out("2025-03-31", "Standard", "support") == 1080.0
    assert out("2025-04-01", "Standard", "support") == 900.0
    assert out("2025-04-01", "Standard", "model") == 1000.0
    # The narrower rule stays until it is changed itself: printer, then head type, then role.
    assert out("2026-01-01", "Fibre", "model") == 800.0
    assert out("2026-01-01", "Fibre", "support") == 800.0
    assert out("2024-06-30", "Standard", "model", "Otter") == math.inf
    assert out("2026-01-01", "Standard", "support", "Otter") == 700.0
    book = policies_on(settings, pd.Timestamp("2024-12-31 10:00"))
    assert book.of("Standard").join_from == math.inf
    assert book.later == (datetime.date(2025, 4, 1),)
    assert policies_on(settings, datetime.date(2026, 1, 1)).of("Standard").join_from == 1080.0


def test_since_when_a_policy_is_what_it_is(tmp_path):
    book = policies_on(shop(HISTORY, tmp_path), datetime.date(2026, 1, 1))
    assert book.since("Standard") == datetime.date(2025, 4, 1)
    assert book.since("Fibre") == datetime.date(2025, 4, 1)  # swapped along from then on
    before = policies_on(shop(HISTORY, tmp_path), datetime.date(2025, 3, 1))
    assert before.since("Fibre") == datetime.date.min
    assert before.since("Standard", "model", "Otter") == datetime.date(2024, 7, 1)


def test_quality_critical_heads_and_printers_never_pass_their_age(tmp_path):
    book = policies_on(
        shop('swap_at = "rating"\nbetween_builds = true\nbuild_hours = 96', tmp_path),
        datetime.date(2026, 1, 1),
    )
    assert book.of("Standard").comes_out_at == 1248.0
    assert book.of("Standard", printer="Otter").comes_out_at == 1152.0
    assert book.of("Fibre").comes_out_at == 768.0
    assert book.of("Fibre").name == "at the rating, between builds"


def test_settings_changed_by_hand_keep_their_history(tmp_path):
    settings = shop(HISTORY, tmp_path).with_(policy={"swap_at": 500.0})
    assert policies_on(settings, datetime.date(2024, 1, 1)).of("Standard").swap_at == 500.0
    assert policies_on(settings, datetime.date(2026, 1, 1)).of("Standard").swap_at == 1000.0


@pytest.mark.parametrize(
    ("policy", "says"),
    [
        ("swap_at = -1", r"\[policy\] swap_at = -1 cannot be used; write \"rating\""),
        ("swap_at = { job = 9 }", r"in braces stands a whole number of jobs"),
        ("swap_at = { jobs = 0 }", r"in braces stands a whole number of jobs"),
        ("swap_at = { jobs = 9 }", r"add build_hours to \[policy\]"),
        ("between_builds = true", r"add build_hours to \[policy\]"),
        ("between_builds = true\nbuild_hours = 900", r"900 h does not fit .* past 800 h"),
        ('join_from = "newer"', r"join_from = 'newer' cannot be used; write \"notice\""),
        ("head_types.Fiber.swap_at = 9", r"head type 'Fiber', which .* mean 'Fibre'"),
        ("roles.modl.swap_at = 9", r"role 'modl', which .* mean 'model'"),
        ("[policy.from.2025-02-30]\nswap_at = 9", r"'2025-02-30' is no day"),
        ('[policy.from."1.4.2025"]\nswap_at = 9', r"'1.4.2025' is no day"),
        ("[policy.from.2025-04-01]", r"2025-04-01\] changes nothing"),
        (
            "[policy.from.2025-04-01]\nswap_at = 9\n[policy.from.2024-04-01]\nswap_at = 8",
            r"2024-04-01\] stands after \[policy.from.2025-04-01\]",
        ),
        (
            "[policy.from.2025-04-01]\nswap_at = 9\n[policy.from.2025-04-01]\nswap_at = 8",
            r"2025-04-01.* twice",
        ),
        ("[policy.from.2025-04-01]\nswp_at = 9", r"swp_at' \(did you mean 'swap_at'"),
        ("[policy.from.2025-04-01]\nswap_at = 0", r"2025-04-01.*swap_at = 0 cannot be used"),
    ],
)
def test_each_mistake_is_one_sentence(policy, says, tmp_path):
    with pytest.raises(SettingsError, match=r"shop\.toml") as caught:
        shop(policy, tmp_path)
    said = str(caught.value)
    assert re.search(says, said), said
    assert len(said.splitlines()) == 1


def test_a_head_type_or_printer_that_is_not_there_is_named(tmp_path):
    book = policies_on(shop(HISTORY, tmp_path), datetime.date(2026, 1, 1))
    with pytest.raises(DecisionError, match="'Glass' is not in the settings"):
        book.of("Glass")
    book.refuse_unknown_printers(["Otter", "Heron"])
    with pytest.raises(SettingsError, match="'Otter', which has no row .* mean 'Otters'"):
        book.refuse_unknown_printers(["Otters"])
