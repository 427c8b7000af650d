"""The page for the vendor. From a `VendorStatement`; computes nothing and names no shop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.show.markup import (
    Html,
    badge,
    escape,
    first_lines,
    items,
    share_bar,
    table,
    typeset,
)
from headlife.show.page import Page, Section
from headlife.show.vendor.table import head_rows
from headlife.show.words import vendor as words
from headlife.show.words.days import day
from headlife.show.words.newest import TOO_YOUNG
from headlife.show.words.numbers import percent, span

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.vendor import RoleStatement, VendorStatement

WHAT: Final = "The rating, by field records"
_LOT: Final = words.HEADINGS.index("Lot")


def vendor_page(said: VendorStatement) -> Page:
    """Lay out the page.

    Parameters
    ----------
    said : VendorStatement
        The statement.

    Returns
    -------
    Page
        One page; it has no stamp of files, whose names are the shop's.
    """
    sections = {}
    if said.divided:
        sections["lots"] = Section(
            "Lot by lot",
            " ".join(map(words.divided_sentence, said.divided)),
            (("lots", lambda: _parts(said)),),
            stays_open=True,
        )
    sections |= {
        "early": Section(
            "Failures before the rated hours",
            "",
            (
                (
                    "early failures",
                    lambda: _heads(said.early, "Heads that failed before the rating, by day"),
                ),
            ),
            short="Early failures",
            stays_open=True,
        )
    }
    if warranty := words.warranty_sentence(said):
        made = ("warranty", lambda: _heads(said.warranted, "Failed within the warranty"))
        sections["warranty"] = Section("Within the warranty", warranty, (made,), stays_open=True)
    method = items(words.method_lines(said))
    closing = Html(
        f'<footer class="closing"><h2>How it was worked out</h2>{method}'
        f'<p class="note">headlife {escape(said.version)}</p></footer>'
    )
    return Page(f"{WHAT}: {said.head_type}", first_screen(said), sections, closing)


def first_screen(said: VendorStatement) -> Html:
    """Say the answer on one screen.

    Parameters
    ----------
    said : VendorStatement
        The answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    title = said.head_type if said.vendor is None else f"{said.head_type}, {said.vendor}"
    when = f"records from {day(said.first)} to {day(said.as_of)}"
    newest = [one for divided in said.divided for one in words.newest(divided)]
    roles = "".join(
        _line(one, said)
        for role in said.roles
        for one in (role, *(part for part in newest if part.role == role.role))
    )
    return first_lines(WHAT, title, when) + Html(
        f"<p>{typeset(words.claim_sentence(said))}</p>"
        f'<div class="cards"><section class="card">{roles}</section></div>'
    )


def _line(one: RoleStatement, said: VendorStatement) -> str:
    """Show what is said of all heads of a role, or of a lot that is bought now."""
    verdict = None if one.too_young else one.verdict
    mark = "" if one.stated is None else badge(TOO_YOUNG if one.too_young else one.stated)
    name = words.part_name(one, said)
    about = f"{name[0].upper()}{name[1:]}: " if name else ""
    bar = (
        ""
        if verdict is None
        else share_bar(
            verdict.bounds[0],
            verdict.share_reaching,
            verdict.bounds[1],
            verdict.share,
            f"{percent(verdict.share_reaching)} reach the rating, {span(*verdict.bounds)}",
        )
    )
    return (
        f'<div class="line rating"><b>{escape(one.role.capitalize())}</b> {mark}{bar}'
        f"<p>{typeset(about + words.role_sentence(one))}</p></div>"
    )


def _parts(said: VendorStatement) -> Html:
    rows = words.parts_table(said, lambda word: Html(badge(word)))
    return table(*rows, caption="The rating lot by lot")


def _heads(heads: pd.DataFrame, caption: str) -> Html:
    rows: list[list[Any]] = [
        [head, role, lot or "–", day(first), day(last), f"{hours:,.0f}"]
        for head, role, lot, first, last, hours in head_rows(heads)
    ]
    # A column of which nothing is on record says nothing.
    shown = [at for at in range(len(words.HEADINGS)) if at != _LOT or heads["lot"].notna().any()]
    return table(
        [words.HEADINGS[at] for at in shown],
        [[row[at] for at in shown] for row in rows],
        caption=caption,
        numbers=(len(shown) - 1,),
    )
