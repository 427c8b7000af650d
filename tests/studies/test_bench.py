"""The models timed beside each other are one model; goals are kept as they say."""

from __future__ import annotations

import numpy as np
import pytest

import headlife as hl
from studies.bench import demand, records
from studies.bench.__main__ import NAMES, main
from studies.bench.measured import HEADER, Measured, at_least, at_most


def test_the_three_models_of_demand_are_one():
    forecast = demand.ours()
    loop, events = demand.plain_numpy(), demand.in_simpy(400)
    assert abs(forecast.mean - loop.mean()) <= 4 * forecast.sd * np.sqrt(2 / demand.DRAWS)
    assert abs(forecast.mean - events.mean()) <= 4 * forecast.sd / np.sqrt(400)


def test_the_repeated_log_is_read_whole(tmp_path):
    records.write_log(tmp_path / "log.csv", 1_000)
    shop = hl.read_shop(records.DEMO / "shop.toml")
    found = hl.read_records(tmp_path / "log.csv", shop)
    assert found.rows_read == len(found.accepted) == 1_000


@pytest.mark.parametrize(
    ("goal", "value", "met"),
    [(at_most(2), 2.0, True), (at_most(2), 2.1, False), (at_least(400), 399.0, False)],
)
def test_a_goal_is_met_or_not_and_the_line_says_so(goal, value, met):
    line = Measured("something", value, "times", goal)
    assert line.met is met
    assert str(line).endswith("yes" if met else "NO")
    assert str(line).index(str(goal)) + len(str(goal)) == HEADER.index("goal") + len("goal")


def test_a_part_that_is_not_there_is_named(capsys):
    with pytest.raises(SystemExit):
        main(["nothing"])
    told = capsys.readouterr().err
    assert "no such part: nothing" in told and all(name in told for name in NAMES)
