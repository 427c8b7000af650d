"""Small pieces of HTML: escaped text, tables, badges, and the bar of a share with its bounds.

From text and numbers; gives `Html`, which a notebook shows and a page contains. Everything that
came from a user is escaped here. Knows nothing of heads or decisions.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence
from importlib import resources
from typing import Any, Final

_BEFORE_UNIT: Final = re.compile(r"(\d) (?=(?:%|h|weeks|heads)(?:\W|$))")
_BADGES: Final = {
    "holds": ("good", "✓"),
    "falls short": ("bad", "✕"),
    "not settled": ("open", "?"),
    "saves": ("good", "✓"),
    "costs more": ("bad", "✕"),
    "not past the rating": ("bad", "✕"),
}


class Html:
    """A piece of HTML that a notebook displays, with a plain line for readers without HTML."""

    def __init__(self, markup: str, plain: str = "") -> None:
        self.markup = markup
        self.plain = plain

    @classmethod
    def text(cls, words: object) -> Html:
        """Make plain words into markup.

        Parameters
        ----------
        words : object
            What it says.

        Returns
        -------
        Html
            The markup.
        """
        return cls(typeset(words), str(words))

    def __str__(self) -> str:
        return self.markup

    def __add__(self, other: Html) -> Html:
        return Html(self.markup + other.markup, f"{self.plain}\n{other.plain}".strip())

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        return {"text/html": f'<div class="hl">{self.markup}</div>', "text/plain": self.plain}


def escape(value: object) -> str:
    """Make any text safe inside HTML, between tags and inside quotes alike.

    Parameters
    ----------
    value : object
        Any text or number.

    Returns
    -------
    str
        The markup.
    """
    return html.escape(str(value), quote=True)


def typeset(text: object) -> str:
    """Escape a sentence and keep numbers and their units on one line.

    Parameters
    ----------
    text : object
        A sentence.

    Returns
    -------
    str
        The markup.
    """
    return _BEFORE_UNIT.sub("\\1&nbsp;", escape(text))


def first_lines(what: str, title: str, when: str) -> Html:
    """Open a page: what it is, whose, and of when.

    Parameters
    ----------
    what : str
        What it is called, in a few words.
    title : str
        Its title.
    when : str
        The day, in words.

    Returns
    -------
    Html
        A piece of the page.
    """
    return Html(
        f'<header class="first"><p class="what">{escape(what)}</p><h1>{escape(title)}</h1>'
        f'<p class="when">{escape(when)}</p></header>',
        f"{what}: {title}, {when}",
    )


def paragraphs(*sentences: str) -> Html:
    """Make paragraphs of sentences.

    Parameters
    ----------
    *sentences : str
        Empty ones are left out.

    Returns
    -------
    Html
        A piece of a page.
    """
    said = [one for one in sentences if one]
    return Html("".join(f"<p>{typeset(one)}</p>" for one in said), "\n".join(said))


def items(sentences: Iterable[str]) -> Html:
    """Make a list of sentences; nothing of none.

    Parameters
    ----------
    sentences : iterable of str
        One for each item.

    Returns
    -------
    Html
        A piece of a page.
    """
    said = list(sentences)
    inside = "".join(f"<li>{typeset(one)}</li>" for one in said)
    return Html(f"<ul>{inside}</ul>" if said else "", "\n".join(said))


def scripts(*names: str) -> str:
    """Read our own scripts, one after the other.

    Parameters
    ----------
    *names : str
        Files of the folder `scripts`, without their ending.

    Returns
    -------
    str
        JavaScript.
    """
    folder = resources.files("headlife.show") / "scripts"
    return "".join((folder / f"{name}.js").read_text(encoding="utf-8") for name in names)


def stylesheet() -> str:
    """Read the look of every piece and of the page."""
    return resources.files("headlife.show").joinpath("page.css").read_text(encoding="utf-8")


def look() -> Html:
    """Bring the page's look into a notebook."""
    return Html(f"<style>{stylesheet()}</style>", "the look of the page")


def badge(words: str) -> str:
    """Show a verdict or an order by shape, word and colour, in this order of importance.

    Parameters
    ----------
    words : str
        What it says.

    Returns
    -------
    str
        The markup.
    """
    kind, sign = _BADGES.get(words, ("plain", ""))
    mark = f'<span aria-hidden="true">{sign}</span> ' if sign else ""
    return f'<span class="badge {kind}">{mark}{escape(words)}</span>'


def table(
    headings: Sequence[str],
    rows: Iterable[Sequence[object]],
    numbers: Sequence[int] = (),
    *,
    caption: str,
    words: Sequence[int] = (),
) -> Html:
    """Write a table; the first column names its rows, and on a phone each row becomes a card.

    Parameters
    ----------
    headings : sequence of str
        One per column, with the unit in square brackets.
    rows : iterable of sequences
        Cells; text is escaped, an `Html` is taken as it is.
    numbers : sequence of int
        Columns set to the right.
    caption : str
        What the table answers.
    words : sequence of int
        Columns of sentences, given the most room.

    Returns
    -------
    Html
        A piece of the page.
    """

    def cell(value: object, column: int) -> str:
        kind = ' class="number"' if column in numbers else ""
        kind = ' class="words"' if column in words else kind
        inside = value.markup if isinstance(value, Html) else typeset(value)
        # On a phone a row becomes a card, and each cell brings the heading of its column; its title
        # does where it would be a number that nobody knows the meaning of.
        head = escape(headings[column])
        if column == 0:
            named = f' data-head="{head}"' if str(value)[:1].isdigit() else ""
            return f'<th scope="row" role="rowheader"{named}{kind}>{inside}</th>'
        return f'<td role="cell" data-head="{head}"{kind}><span>{inside}</span></td>'

    def heading(name: str, column: int) -> str:
        kind = ' class="number"' if column in numbers else ""
        return f'<th scope="col" role="columnheader"{kind}>{typeset(name)}</th>'

    head = "".join(heading(name, at) for at, name in enumerate(headings))
    lines = [
        '<tr role="row">' + "".join(cell(value, at) for at, value in enumerate(row)) + "</tr>"
        for row in rows
    ]
    body = "".join(lines) or (
        f'<tr role="row"><td role="cell" colspan="{len(headings)}" class="nothing">nothing to '
        "list</td></tr>"
    )
    return Html(
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(caption)}">'
        f'<table role="table"><caption>{escape(caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table></div>',
        f"table: {caption} ({len(lines)} rows)",
    )


def share_bar(low: float, share: float, high: float, claim: float, words: str) -> str:
    """Draw a share with its bounds against the claimed share, on a line that ends at 100 percent.

    Parameters
    ----------
    low, share, high : float
        Lower bound, estimate, upper bound [-].
    claim : float
        The share claimed [-].
    words : str
        The same for a reader who cannot see it.

    Returns
    -------
    str
        The markup, as SVG.
    """
    start = 0.5 if low >= 0.5 and claim > 0.5 else 0.0

    def at(value: float) -> str:
        inside = (min(max(value, start), 1.0) - start) / (1.0 - start)
        return f"{34 + 170 * inside:.1f}"

    return (
        f'<svg class="share" viewBox="0 0 250 22" role="img" aria-label="{escape(words)}">'
        f'<text x="28" y="15.5" text-anchor="end">{100 * start:.0f} %</text>'
        f'<text x="210" y="15.5">100 %</text>'
        f'<line x1="{at(start)}" x2="{at(1)}" y1="11" y2="11" class="rail"/>'
        f'<line x1="{at(low)}" x2="{at(high)}" y1="11" y2="11" class="range"/>'
        f'<line x1="{at(claim)}" x2="{at(claim)}" y1="1" y2="21" class="claim"/>'
        f'<circle cx="{at(share)}" cy="11" r="4.5" class="dot"/></svg>'
    )
