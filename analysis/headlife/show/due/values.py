"""What is due, as plain values and as a table that a spreadsheet opens. From a `DueList`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.show.plain import answers, lines, rows
from headlife.show.words import due as words

if TYPE_CHECKING:
    from headlife.decisions.due import DueList

_NAMES: Final = ("head", "head_type", "role", "site", "printer", "position")
_HEADINGS: Final = (
    "What to do", "Head", "Head type", "Role", "Site", "Printer", "Position", "Hours now [h]",
    "Rated [h]", "To notice [h]", "To rating [h]", "Swap by policy at [h]", "Rating reached",
    "Rating reached, earliest", "Rating reached, latest", "Chance to finish the build [-]",
    "Spare", "Why",
)  # fmt: skip


def due_values(due: DueList) -> dict[str, Any]:
    """Give the list as plain values that survive JSON.

    Parameters
    ----------
    due : DueList
        The list.

    Returns
    -------
    dict
        `sentence`, `build_hours` [h], `heads` as in `DueList.heads`, each with its `why`, and
        `empty_positions`.
    """
    heads = rows(due.heads)
    for values, row in zip(heads, lines(due.heads), strict=True):
        values["why"] = words.why(row, due.build_hours)
    return answers(
        due,
        sentence=words.due_sentence(due),
        build_hours=due.build_hours,
        heads=heads,
        empty_positions=[one._asdict() for one in due.empty],
    )


def due_rows(due: DueList) -> list[list[Any]]:
    """Give the list as rows for a spreadsheet, headings first; days and hours as such.

    Parameters
    ----------
    due : DueList
        The list.

    Returns
    -------
    list of list
        Rows; a cell without a value is None.
    """
    return [list(_HEADINGS), *(_row(row, due.build_hours) for row in lines(due.heads))]


def _row(row: Any, build_hours: float) -> list[Any]:
    return [
        row.action,
        *(_known(getattr(row, name)) for name in _NAMES),
        *(_number(value) for value in (row.age_hours, row.rated_hours, row.to_notice)),
        *(_number(value) for value in (row.to_rating, row.swap_at)),
        *(_date(value) for value in (row.day_rating, row.earliest_rating, row.latest_rating)),
        _number(row.probability, 3),
        words.spare_words(row),
        words.why(row, build_hours),
    ]


def _known(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _number(value: float, digits: int = 1) -> float | None:
    return round(float(value), digits) if abs(value) < float("inf") else None


def _date(value: Any) -> Any:
    return None if value != value else value.date()
