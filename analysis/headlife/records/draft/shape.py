"""What is one row of this log: a stretch, an event, a work order, or a printer with its heads?

Answers from the header and the cells of its best sheet, with the columns chosen for that shape. For
a draft that a person confirms.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from headlife.records.draft.choice import Choice, choose
from headlife.records.draft.contents import Contents
from headlife.records.draft.names import concepts, name_scores
from headlife.records.draft.vocabulary import POSITIONS, folded, without
from headlife.shop.columns import EVENT_COLUMNS, METER_COLUMNS, STANDARD_COLUMNS
from headlife.shop.layout import Shape

_MOSTLY: Final = 0.6
_CLEARLY: Final = 0.8
_AGAIN_AND_AGAIN: Final = 0.1  # share of readings that are 0
_OF_A_STAY: Final = ("date_in", "hours_in", "date_out", "hours_out")
# What a group of columns for one head position may hold.
_OF_A_GROUP: Final = (
    *("head", "head_type", "role", *_OF_A_STAY, *METER_COLUMNS, "hours_run", "reason"),
    *("material", "lot", "last_good_hours"),
)


@dataclass(frozen=True)
class Guess:
    """How a log seems to be laid out."""

    shape: Shape
    """What one row is."""
    chosen: dict[str, Choice]
    """Standard column -> the column chosen."""
    groups: dict[str, dict[str, int]] = field(default_factory=dict)
    """Head position -> standard column -> place of the column."""

    def place(self, name: str) -> int | None:
        """Give the place of the column chosen for a purpose.

        Parameters
        ----------
        name : str
            The purpose.

        Returns
        -------
        int or None
            The place, from 0; None where none is chosen.
        """
        return self.chosen[name].place if name in self.chosen else None


def guess_shape(header: Sequence[str], contents: Sequence[Contents]) -> Guess:
    """Guess what a row is and which column is which.

    Parameters
    ----------
    header : sequence of str
        Names of the columns.
    contents : sequence of Contents
        What is in them.

    Returns
    -------
    Guess
        The guess, column by column.
    """
    groups = _groups(header, contents)
    if groups:
        taken = {place for group in groups.values() for place in group.values()}
        rest = [place for place in range(len(header)) if place not in taken]
        in_groups = {name for group in groups.values() for name in group}
        of_all = {"head", "head_type", "role"} - in_groups if "date_in" in in_groups else set()
        wanted = [name for name in STANDARD_COLUMNS if name in of_all or name not in _OF_A_GROUP]
        wanted = [name for name in wanted if name not in in_groups]
        chosen = choose([header[i] for i in rest], [contents[i] for i in rest], wanted)
        own = {name: Choice(rest[one.place], one.sure) for name, one in chosen.items()}
        # A group either names its head, or is a stay of the head that the row is about.
        if "head" in own or all("head" in group for group in groups.values()):
            return Guess("printers", own, groups)
    stays = _without_moves(choose(header, contents, STANDARD_COLUMNS))
    stays = _heads_own(stays, header, contents)
    moves = _heads_own(choose(header, contents, _names_of_moves()), header, contents)
    if _is_orders(moves, contents) or _is_orders_without_serials(moves, stays):
        moves = {n: c for n, c in moves.items() if n not in ("head", "event")}
        return Guess("orders", _hours_that_came_out(moves, stays, contents))
    if _is_events(moves, stays, contents):
        return Guess("events", {n: c for n, c in moves.items() if n not in ("head_in", "head_out")})
    return Guess("stretches", stays)


def _without_moves(chosen: dict[str, Choice]) -> dict[str, Choice]:
    return {name: one for name, one in chosen.items() if name not in EVENT_COLUMNS}


def _hours_that_came_out(
    moves: dict[str, Choice], stays: dict[str, Choice], contents: Sequence[Contents]
) -> dict[str, Choice]:
    """Take hours that are said to be those of the old head for what an order tells."""
    out = stays.get("hours_out")
    taken = {one.place for one in moves.values()}
    if "hours" in moves or out is None or out.place in taken:
        return moves
    return moves | {"hours": out} if contents[out.place].hours >= _MOSTLY else moves


def _heads_own(
    chosen: dict[str, Choice], header: Sequence[str], contents: Sequence[Contents]
) -> dict[str, Choice]:
    """Take hours that begin at 0 again and again for the head's own, if no printer is named."""
    renamed = {}
    for name, one in chosen.items():
        own = name.removeprefix("printer_")
        texts = contents[one.place].texts
        zeros = sum(count for text, count in texts.items() if not text.strip("0.,: h"))
        begins = own != name and zeros >= _AGAIN_AND_AGAIN * texts.total()
        if begins and own not in chosen and "printer" not in concepts(folded(header[one.place])):
            renamed[own] = name
    partner = {"hours_in": "hours_out"}
    for own in list(renamed):
        other = partner.get(own)
        if other and f"printer_{other}" in chosen and other not in chosen:
            renamed[other] = f"printer_{other}"
    names = {old: own for own, old in renamed.items()}
    return {names.get(name, name): one for name, one in chosen.items()}


def _names_of_moves() -> list[str]:
    stays = {*_OF_A_STAY, *METER_COLUMNS, "hours_run"}
    return [*EVENT_COLUMNS, *(name for name in STANDARD_COLUMNS if name not in stays)]


def _is_orders(moves: dict[str, Choice], contents: Sequence[Contents]) -> bool:
    both = [one for name in ("head_in", "head_out") if (one := moves.get(name))]
    if "date" not in moves or len(both) < 2:
        return False
    return all(
        contents[one.place].days < _MOSTLY and (one.sure or contents[one.place].serials >= _CLEARLY)
        for one in both
    )


def _is_orders_without_serials(moves: dict[str, Choice], stays: dict[str, Choice]) -> bool:
    """Tell whether rows say where a head was changed, when and why, and not which."""
    if {"head", "head_in", "head_out", "event"} & set(moves) or {"date_in", "date_out"} <= set(
        stays
    ):
        return False
    sure = {name for name, one in moves.items() if one.sure}
    return {"date", "printer", "reason"} <= sure and bool({"position", "role"} & set(moves))


def _is_events(
    moves: dict[str, Choice], stays: dict[str, Choice], contents: Sequence[Contents]
) -> bool:
    if "event" not in moves or "date" not in moves:
        return False
    if {"date_in", "date_out"} <= {name for name, one in stays.items() if one.sure}:
        return False
    return contents[moves["event"].place].events >= _MOSTLY


def _groups(header: Sequence[str], contents: Sequence[Contents]) -> dict[str, dict[str, int]]:
    """Find columns that repeat for each head position: the same names behind another word."""
    split = {place: _split(name) for place, name in enumerate(header) if name.strip()}
    rests: dict[str, set[str]] = {}
    for parts in split.values():
        for label, rest in parts:
            rests.setdefault(label, set()).add(rest)
    labels = [
        label
        for label, own in rests.items()
        if any(other != label and len(own & rests[other]) >= 2 for other in rests)
        and any("head" in name_scores(rest) or _begins(label, rest) for rest in own)
        and not concepts(label) & {"in", "out"}
    ]
    best = _alike(labels, rests)
    groups: dict[str, dict[str, int]] = {}
    for label in best:
        own = {place: rest for place, parts in split.items() for one, rest in parts if one == label}
        places = list(own)
        wanted = (*_OF_A_GROUP, *(("printer", "position", "site") if label.isdigit() else ()))
        chosen = choose([own[i] for i in places], [contents[i] for i in places], wanted)
        if "head" in chosen or (label.isdigit() and "date_in" in chosen):
            words = _label_as_written(label, [header[i] for i in places])
            groups[words] = {name: places[one.place] for name, one in chosen.items()}
    return groups if len(groups) > 1 else {}


def _begins(label: str, rest: str) -> bool:
    """Tell whether a column is the day on which the first, second, ... stay of a head began."""
    return label.isdigit() and "date_in" in name_scores(rest)


def _split(name: str) -> list[tuple[str, str]]:
    """Split a name into a word for a position and the rest, in every way."""
    key = folded(name)
    words = key.split()
    parts = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    parts += [(" ".join(words[k:]), " ".join(words[:k])) for k in range(1, len(words))]
    for position in POSITIONS.values():
        rest = " ".join(without(key, position).split())
        if rest and rest != key and " " not in key:
            parts.append((key.replace(rest, "", 1).strip(), rest))
    return [(label, rest) for label, rest in parts if label and rest]


def _alike(labels: Sequence[str], rests: dict[str, set[str]]) -> list[str]:
    """Of the words that may be positions, keep those that share the most names of columns."""
    shared = Counter(
        {
            label: max(
                (len(rests[label] & rests[other]) for other in labels if other != label), default=0
            )
            for label in labels
        }
    )
    if not shared:
        return []
    most = max(shared.values())
    return [label for label in labels if shared[label] == most and most >= 2]


def _label_as_written(label: str, names: Sequence[str]) -> str:
    """Give a position's word as the header writes it."""
    for name in names:
        words = name.split()
        for size in range(1, len(words) + 1):
            for part in (" ".join(words[:size]), " ".join(words[-size:])):
                if folded(part) == label:
                    return part
    return label
