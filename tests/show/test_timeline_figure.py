"""The fleet over the calendar: every installation is one bar, every removal one mark."""

from __future__ import annotations

import numpy as np
import pandas as pd

from headlife.show.figures import timeline


def rows(*lines):
    frame = pd.DataFrame(
        lines, columns=["printer", "position", "date_in", "date_out", "mode", "suspension"]
    )
    for name in ("date_in", "date_out"):
        frame[name] = pd.to_datetime(frame[name])
    return frame.assign(head_type="A", site="")


TWO = rows(
    ("P10", "left", "2026-01-05", "2026-03-02", "wear", None),
    ("P10", "left", "2026-03-02", "2026-06-29", None, None),
    ("P2", "left", "2026-01-12", "2026-02-09", None, "planned swap"),
)


def test_one_bar_per_installation_and_places_in_counting_order():
    bars = timeline.installations(TWO)
    assert len(bars) == len(TWO)
    assert bars.drop_duplicates("line").sort_values("line")["place"].tolist() == [
        "P2 left",
        "P10 left",
    ]
    assert bars["ending"].tolist() == ["wear", timeline.IN_SERVICE, "planned swap"]


def test_a_swap_on_one_day_counts_one_head():
    counts = timeline.heads_in_service(timeline.installations(TWO))["A"]
    assert counts.loc["2026-03-02"] == 1, "out and in on the same Monday"
    assert counts.loc["2026-01-19"] == 2
    assert counts.iloc[-1] == 1, "a head still in service counts on the last day"


def test_counts_agree_with_counting_day_by_day(demo):
    records, review = demo
    bars = timeline.installations(records.accepted, review.as_of)
    counts = timeline.heads_in_service(bars)
    for day in counts.index[::20]:
        running = (bars["start"] <= day) & (
            (bars["end"] > day) | (bars["ending"] == timeline.IN_SERVICE)
        )
        expected = bars[running].groupby("head_type").size().reindex(counts.columns, fill_value=0)
        assert counts.loc[day].tolist() == expected.tolist()


def test_what_happened_later_is_not_shown():
    bars = timeline.installations(TWO, pd.Timestamp("2026-02-20"))
    assert bars["ending"].tolist() == [timeline.IN_SERVICE, "planned swap"]
    assert bars["end"].max() == pd.Timestamp("2026-02-20")


def test_every_removal_has_its_mark(axes, demo):
    records, review = demo
    bars = timeline.installations(records.accepted, review.as_of)
    timeline.draw_timeline(axes, bars)
    marks = {line.get_label(): len(line.get_xdata()) for line in axes.get_lines()}
    removed = bars[bars["ending"] != timeline.IN_SERVICE]
    for ending, number in removed["ending"].value_counts().items():
        assert marks[ending] == number
    drawn = sum(len(one.get_segments()) for one in axes.collections if one.get_label()[0] != "_")
    assert drawn == len(bars)
    assert np.ptp(axes.get_ylim()) > bars["line"].max()


def test_a_name_without_end_leaves_room_for_the_bars(axes):
    # A serial number or a printer of 3,000 characters left no room at all.
    bars = timeline.installations(TWO.assign(printer=["P" * 3_000, "P" * 3_000, "P2"]))
    timeline.draw_timeline(axes, bars)
    labels = [label.get_text() for label in axes.get_yticklabels()]
    long, short = sorted(labels, key=len, reverse=True)
    assert short == "P2 left"
    assert long == "P" * 8 + "…" + "P" * 10 + " left"


def test_of_many_positions_those_with_most_failures_are_drawn_and_every_head_is_counted():
    many = pd.concat(
        [TWO.assign(printer=f"P{k:03d}", mode="wear" if k % 10 == 0 else None) for k in range(100)]
    )
    bars = timeline.installations(many)
    kept = timeline.busiest(bars, 10)
    assert sorted(kept["line"].unique()) == list(range(kept["line"].nunique()))
    assert {place.split()[0] for place in kept["place"]} <= {f"P{10 * k:03d}" for k in range(10)}
    assert timeline.busiest(bars, 1_000)["line"].equals(bars["line"])
