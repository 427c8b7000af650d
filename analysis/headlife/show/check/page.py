"""The page of a check: what to state first, what to mend by cause, what is doubtful.

From what a check found. Says what to do in the order in which it helps: a line of settings before
cells, one cause before its rows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.records.causes import Cause, causes
from headlife.records.cells import quoted
from headlife.show.markup import Html, escape, first_lines, items, paragraphs, table, typeset
from headlife.show.page import Page, Section
from headlife.show.plain import lines
from headlife.show.words.numbers import counted

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.record_set import Records
    from headlife.shop import Shop

_MOST_ROWS: Final = 500  # rows listed one by one; the tables beside the log have all of them
_BY_CAUSE: Final = (
    "Rows that are not used, grouped by what is behind them; what most rows share comes first. "
    "Nothing was mended: the log itself stays as it is."
)
_DOUBTS: Final = "These rows are used. Each doubt says what counts meanwhile."


def check_page(records: Records, findings: pd.DataFrame) -> Page:
    """Lay out the page of a check.

    Parameters
    ----------
    records : Records
        The records.
    findings : DataFrame
        From `audit`.

    Returns
    -------
    Page
        The page.
    """
    grouped = causes(records.set_aside, records.origins)
    sections: dict[str, Section] = {
        "causes": Section(
            "What keeps rows from being used?",
            _BY_CAUSE,
            (("causes", lambda: _causes(grouped, records.shop)),),
            short="Causes",
            result=lambda: counted(len(grouped), "cause", "causes").capitalize() + ".",
            stays_open=True,
        ),
        "doubts": Section(
            "What is doubtful in rows that are used?",
            _DOUBTS,
            (("doubts", lambda: _doubts(findings)),),
            short="Doubts",
            stays_open=True,
        ),
        "written": Section(
            "How was the log read?",
            "",
            (("how it was read", lambda: _reading(records)),),
            stays_open=True,
        ),
        "rows": Section("Row by row", "", (("rows", lambda: _rows(records)),), stays_open=True),
    }
    empty = {"causes": not grouped, "doubts": _kept(findings).empty, "rows": not grouped}
    for name in [name for name in sections if empty.get(name)]:
        del sections[name]
    title = f"Check of {records.source}"
    return Page(title, _first(records, grouped, findings), sections, _closing(records))


def _first(records: Records, grouped: list[Cause], findings: pd.DataFrame) -> Html:
    doubts = len(_kept(findings))
    tiles = (
        ("rows read", records.rows_read),
        ("used", records.rows_used),
        ("not used", len(records.set_aside)),
        ("no records", len(records.no_records)),
        ("causes", len(grouped)),
        ("doubts", doubts),
    )
    numbers = "".join(
        f"<dt>{escape(name)}</dt><dd>{number:,}</dd>"
        for name, number in tiles
        if number or name in ("rows read", "used")
    )
    first = first_lines("Check of records", records.source, f"settings of {records.shop.name}")
    asked = items(f"{question}." for question in records.questions).markup
    ask = (
        '<div class="missing"><p><b>State this first</b>; nothing is answered until it is '
        f"settled:</p>{asked}</div>"
        if asked
        else ""
    )
    return Html(
        f"{first.markup}<p><b>{typeset(_answer(records, grouped, doubts))}</b></p>"
        f'<dl class="stamp">{numbers}</dl>{ask}{_to_do(records)}',
        f"{first.plain}\n{records.summary()}",
    )


def _to_do(records: Records) -> str:
    marked = len(records.shop.to_do)
    if not marked:
        return ""
    which = counted(marked, "line", "lines")
    return f"<p>{which} of the settings still marked TO DO: confirm them, take the mark away.</p>"


def _causes(grouped: list[Cause], shop: Shop) -> Html:
    return table(
        ["Rows", "Column", "What stands there", "What is wrong, and what to do", "Where"],
        [
            (
                f"{len(cause.rows):,}",
                _column(cause.column, shop),
                ("" if cause.one_value else "such as ") + _shown(cause.value),
                f"{cause.problem}.",
                cause.named,
            )
            for cause in grouped
        ],
        caption="What to mend, by cause",
        numbers=(0,),
        words=(3,),
    )


def _column(name: str, shop: Shop) -> str:
    """Name a column as headlife calls it, and as the shop does."""
    own = shop.columns.get(name, name)
    return name if own == name else f"{name} ({own})"


def _shown(value: str) -> str:
    """Show a cell: blank named, invisible characters by their codes."""
    return quoted(value) if value.strip() else "(blank)"


def _kept(findings: pd.DataFrame) -> pd.DataFrame:
    """Take the findings about rows that are used."""
    return findings[findings["severity"] != "error"]


def _answer(records: Records, grouped: list[Cause], doubts: int) -> str:
    """Say in a sentence whether the records can be used as they are."""
    read, out = records.rows_read, len(records.set_aside)
    used = "Every record is used" if not out else f"{out:,} of {read:,} rows are not used"
    causes_said = f", for {counted(len(grouped), 'cause', 'causes')}" if out else ""
    doubtful = counted(doubts, "doubt", "doubts") if doubts else "nothing is doubtful"
    about = " about rows that are used" if doubts and out else ""
    return f"{used}{causes_said}; {doubtful}{about}."


def _doubts(findings: pd.DataFrame) -> Html:
    return table(
        ["Rows", "What", "In words"],
        [(one.rows, one.check, one.sentence) for one in lines(_kept(findings).head(_MOST_ROWS))],
        caption="Doubts",
        words=(2,),
    )


def _reading(records: Records) -> Html:
    names = ", ".join(records.unused_columns)
    unused = f"Columns not used: {names}." if names else "Every column is used."
    notes = paragraphs(*records.notes, unused)
    if records.no_records.empty:
        return notes
    left_out = table(
        ["Row", "Why it is no record"],
        [
            (records.origins.name(one.row), one.why)
            for one in lines(records.no_records.head(_MOST_ROWS))
        ],
        caption="Rows that are no records",
        words=(1,),
    )
    return notes + left_out


def _rows(records: Records) -> Html:
    listed = table(
        ["Row", "Column", "What stands there", "What is wrong, and what to do"],
        [
            (
                records.origins.name(one.row),
                _column(one.column, records.shop),
                _shown(one.value),
                f"{one.problem}.",
            )
            for one in lines(records.set_aside.head(_MOST_ROWS))
        ],
        caption="Rows that are not used",
        words=(3,),
    )
    more = len(records.set_aside) - _MOST_ROWS
    if more <= 0:
        return listed
    return listed + Html.text(f"and {more:,} more, in the tables that check writes beside the log")


def _closing(records: Records) -> Html:
    stamps = (
        ("Records", f"{records.source}, SHA-256 {records.sha256}"),
        ("Settings", f"SHA-256 {records.shop.sha256}"),
    )
    inside = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in stamps)
    return Html(
        f'<footer class="closing"><h2>Made from</h2><dl class="stamp">{inside}</dl></footer>',
        "what this page was made from",
    )
