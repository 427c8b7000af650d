"""What changed, as plain values. From `Changes`; computes nothing but the wording."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from headlife.show.plain import answers, rows
from headlife.show.words import changes as words

if TYPE_CHECKING:
    from headlife.decisions.changes import Changes, GroupChange


def changes_values(changes: Changes) -> dict[str, Any]:
    """Give what changed as plain values that survive JSON.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    dict
        The values, by their key.
    """
    return answers(
        changes,
        since=changes.since.date().isoformat(),
        ratings=[_rating(one) for one in changes.groups],
        removals=rows(changes.removals),
        stock=[asdict(one) | {"sentence": words.level_sentence(one)} for one in changes.stock],
        new=rows(changes.new),
        gone=rows(changes.gone),
        forecasts=rows(changes.forecasts),
        settings=[asdict(one) for one in changes.settings],
        not_exchanged=list(changes.not_exchanged),
    )


def _rating(one: GroupChange) -> dict[str, Any]:
    group = one.group
    return {
        "head_type": group.head_type,
        "role": group.role,
        "further": dict(group.further),
        **{name: value for name, value in vars(one).items() if name != "group"},
        "sentence": words.verdict_sentence(one),
    }
