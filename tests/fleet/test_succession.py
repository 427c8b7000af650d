"""One head type that takes the place of another is found and said."""

from __future__ import annotations

import numpy as np
import pandas as pd

import headlife as hl
from headlife.decisions.spares.levels import stock_answers
from headlife.fleet.succession import GivesWay, giving_way
from headlife.show.words.stock import ahead_sentence

SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[head_types."Old"]
rated_hours = 500
[head_types."New"]
rated_hours = 500
[spares]
lead_time_weeks = 6
[review]
draws = 500
"""


def chain(*types, place=1, used_up=True, start="2024-01-01"):
    """Heads of these types one after the other in one position, 30 days each."""
    first = np.datetime64(start) + np.timedelta64(place, "D")
    begins = first + 30 * np.arange(len(types)) * np.timedelta64(1, "D")
    last = np.arange(len(types)) == len(types) - 1
    return pd.DataFrame(
        {
            "place": place,
            "row": np.arange(len(types)) + 100 * place,
            "date_in": begins,
            "date_out": begins + np.timedelta64(30, "D"),
            "role": "model",
            "head_type": list(types),
            "changed": (not used_up) & ~last,
            "used_up": used_up & ~last,
            "first": True,
        }
    )


def of(*chains):
    return giving_way(pd.concat(chains, ignore_index=True))


def test_a_type_that_is_replaced_head_by_head():
    went_over = [chain("Old", "Old", "Old", "New", "New", place=place) for place in range(6)]
    assert of(*went_over) == (GivesWay("Old", "model", "New", 6, 6),)
    assert of(*went_over[::-1]) == of(*went_over)
    # Five of the latest six are enough, four are not.
    stays = [chain("Old", "Old", "Old", "Old", "Old", place=place) for place in (7, 8)]
    assert of(*went_over[:5], chain("Old", "Old", "Old", "Old", place=9))[0].heads == 5
    assert of(*went_over[:4], *stays) == ()
    # Long ago, and back again: what is done now counts.
    back = [chain("New", "New", "Old", "Old", "Old", place=place) for place in range(6)]
    assert of(*back) == (GivesWay("New", "model", "Old", 6, 6),)


def test_heads_followed_by_their_own_type_or_taken_out_to_change_material_say_nothing():
    assert of(*[chain("Old", "Old", "Old", place=place) for place in range(6)]) == ()
    by_turns = [chain("Old", "New", "Old", "New", "Old", place=place) for place in range(6)]
    changed = [chain("Old", "New", "Old", used_up=False, place=place) for place in range(6)]
    assert of(*changed) == () and of(chain("Old")) == () and of(chain()) == ()
    # Types that take turns in one position.
    assert of(*by_turns) == ()


def made(tmp_path, types):
    rows = ["head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"]
    number = 0
    for place in range(6):
        for turn, kind in enumerate(types):
            begins = np.datetime64("2024-01-01") + 60 * turn + place
            last = turn == len(types) - 1
            why = "" if last else "worn out"
            number += 1
            rows.append(f"H{number},{kind},model,P{place},left,{begins},0,{begins + 60},400,{why}")
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "shop.toml").write_text(SETTINGS)
    return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")


def test_stocks_of_both_types_say_so_while_a_head_of_the_old_one_is_in(tmp_path):
    case = made(tmp_path, ["Old", "Old", "New"])
    assert case.fleet.giving_way == (GivesWay("Old", "model", "New", 6, 6),)
    # None of the old type is left.
    answers = stock_answers(case.fleet, case.modes, case.shop, case.day)
    assert all(one.giving_way == () for one in answers)
    text = (tmp_path / "log.csv").read_text()
    (tmp_path / "log.csv").write_text(text + "H99,Old,model,P9,left,2024-04-01,0,2024-06-30,300,\n")
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")
    said = {
        one.head_type: ahead_sentence(one)
        for one in stock_answers(case.fleet, case.modes, case.shop, case.day)
    }
    both = "6 of the last 6 Old heads used up as model were followed by New heads"
    assert both in said["Old"] and "needed for such heads counts for New." in said["Old"]
    assert both in said["New"] and "needed for such heads counts here." in said["New"]
    confirmed = case.with_(policy={"confirmed": True})
    assert confirmed.fleet.giving_way == ()
    stays = made(tmp_path, ["Old", "Old", "Old"])
    assert stays.fleet.giving_way == ()
