"""How do sections become one page that opens anywhere?

From a first screen, sections of words, figures and tables, and a closing (the cautions, and what it
was made from); gives one HTML text with no code and no link to outside, and with no script but one
of our own, named to the browser by its hash. Each section folds, its result in one line outside; a
contents list stays at hand. A notebook shows the same sections one by one. A figure or table that
fails costs itself, with a sentence in its place, and never the answers.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from headlife.show.markup import Html, escape, items, scripts, stylesheet, typeset
from headlife.show.plain import stamp
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.days import day

if TYPE_CHECKING:
    from headlife.case import Provenance

# Nothing may be fetched: the browser itself refuses what a mistake of ours might let through.
_POLICY: Final = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
# A section in a notebook's cell is as tall as what it shows; where that cannot be asked, so tall.
_TALL: Final = "70rem"
_FIT: Final = "this.style.height = `${this.contentDocument.documentElement.scrollHeight + 24}px`"
_MISSING: Final = '<span class="missing">'


def or_sentence(what: str, make: Callable[[], Html]) -> Html:
    """Make a piece of a page; where that fails, put a sentence in its place.

    Parameters
    ----------
    what : str
        What is missing if it fails, to follow "could not be drawn: ".
    make : callable
        Gives the piece.

    Returns
    -------
    Html
        The sentence.
    """
    try:
        return make()
    except Exception as fault:  # whatever a drawing trips over, the answers around it stand
        words = (
            f"This part of the page could not be made ({type(fault).__name__}): {what}. The "
            "answers on this page do not depend on it."
        )
        return Html(f"{_MISSING}{escape(words)}</span>", words)


def missing_parts(page: str) -> int:
    """Count the parts of a page, or of a notebook's output, that could not be made.

    Parameters
    ----------
    page : str
        The page as HTML.

    Returns
    -------
    int
        How many.
    """
    return page.count(_MISSING)


def panels(what: str, figures: Iterable[tuple[str, Callable[[], Html]]]) -> Html:
    """Set figures side by side where there is room; one that fails leaves the others.

    Parameters
    ----------
    what : str
        What the figures show, such as "demand against stock level".
    figures : iterable of (name, callable)
        What each is about, and what draws it.

    Returns
    -------
    Html
        A piece of the page.
    """
    drawn = [or_sentence(f"{what}, {name}", make) for name, make in figures]
    return Html(
        f'<div class="panels">{"".join(one.markup for one in drawn)}</div>',
        "\n".join(one.plain for one in drawn if one.plain) or what,
    )


@dataclass(frozen=True)
class Section:
    """One question: words on how to read the answer, then figures and tables."""

    title: str
    """The question."""
    words: str
    """How to read what follows; empty where nothing needs saying."""
    pieces: tuple[tuple[str, Callable[[], Html]], ...]
    """What each piece shows, and what makes it."""
    short: str = ""
    """Its name in the list of contents; the question itself where left out."""
    result: Callable[[], str] | None = None
    """Gives the answer in one line, which stays in sight while the section is folded."""
    stays_open: bool = False
    """Whether the page opens with this section unfolded."""

    def html(self) -> Html:
        """Make the section, for a cell of a notebook."""
        return Html(
            f"<section><h2>{escape(self.title)}</h2>{self._inside()}</section>",
            f"{self.title}\n{self.words}",
        )

    def folded(self, name: str) -> Html:
        """Make the section for a page: it folds, its title and result do not.

        Parameters
        ----------
        name : str
            Where a link to it leads.

        Returns
        -------
        Html
            A piece of the page.
        """
        said = "" if self.result is None else _line(self.title, self.result).markup
        result = f' <span class="result">{said}</span>' if said else ""
        opened = " open" if self.stays_open else ""
        # The name is inside: a browser unfolds what a link leads into.
        return Html(
            f'<section class="fold"><details{opened}><summary><h2>{escape(self.title)}</h2>'
            f'{result}</summary><div class="inside" id="{escape(name)}">{self._inside()}</div>'
            "</details></section>",
            self.title,
        )

    def _inside(self) -> str:
        made = [or_sentence(what, make) for what, make in self.pieces]
        words = f"<p>{typeset(self.words)}</p>" if self.words else ""
        return words + "".join(piece.markup for piece in made)

    def _repr_mimebundle_(self, **_: Any) -> dict[str, str]:
        return self.html()._repr_mimebundle_()


def _line(what: str, say: Callable[[], str]) -> Html:
    """Say a line; where that fails, say that it is missing."""
    return or_sentence(f"the answer to “{what}” in one line", lambda: Html.text(say()))


@dataclass(frozen=True)
class Page:
    """Everything one command shows, ready to be written or to be shown section by section."""

    title: str
    """Shown in the browser's tab."""
    first: Html
    """The first screen: every answer."""
    sections: Mapping[str, Section]
    """Name of a section -> the section, in the order of the page."""
    closing: Html
    """Cautions, and what the page was made from."""
    script: str = ""
    """What the page's own script does beside opening folded sections on paper; no other runs."""

    def __getitem__(self, name: str) -> Section:
        """Give one section, for a cell of a notebook."""
        return self.sections[name]

    def html(self) -> str:
        """Make the whole page as the text of one file."""
        parts = (
            Html(f'<div id="answers">{self.first.markup}</div>'),
            *(section.folded(name) for name, section in self.sections.items()),
            Html(f'<div id="cautions">{self.closing.markup}</div>'),
        )
        ours = scripts("fold") + self.script
        return page_text(self.title, _body(parts), contents=self._contents(), script=ours)

    def live(self, name: str) -> Html:
        """Show one section as a small page of its own, its script running, in a notebook's cell.

        Parameters
        ----------
        name : str
            Of the section.

        Returns
        -------
        Html
            A frame, so that neither its script nor its look meets those of the notebook.
        """
        title = self.sections[name].title
        text = page_text(title, _body([self.sections[name].folded(name)]), script=self.script)
        return Html(
            f'<iframe title="{escape(title)}" srcdoc="{escape(text)}" '
            f'onload="{_FIT}" style="width: 100%; height: {_TALL}; border: 0"></iframe>',
            title,
        )

    def _contents(self) -> str:
        """List the sections, at hand wherever one reads."""
        named = {
            "answers": "Answers",
            **{name: one.short or one.title for name, one in self.sections.items()},
            "cautions": "Before you act",
        }
        links = "".join(
            f'<li><a href="#{escape(name)}">{escape(words)}</a></li>'
            for name, words in named.items()
        )
        return f'<nav class="contents" aria-label="Contents"><ul>{links}</ul></nav>\n'


def _body(parts: Iterable[Html]) -> str:
    return "\n".join(f'<div class="hl">{part.markup}</div>' for part in parts)


def page_text(
    title: str, body: str, *, contents: str = "", script: str = "", framed: Iterable[str] = ()
) -> str:
    """Frame the body of a page: its look, and a policy under which nothing is fetched.

    Parameters
    ----------
    title : str
        Shown in the browser's tab; escaped here.
    body : str
        HTML, with everything that came from a user escaped.
    contents : str, optional
        HTML of the contents list, before the body.
    script : str, optional
        Ours; the policy names it by its hash, so that a browser runs this text and no other.
    framed : iterable of str, optional
        Hashes of our scripts that run in frames of the body, such as "sha256-…".

    Returns
    -------
    str
        The text of one file.
    """
    sha = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    named = " ".join(f"'{one}'" for one in (*([f"sha256-{sha}"] if script else []), *framed))
    policy = f"{_POLICY}; script-src {named}" if named else _POLICY
    ours = f"<script>{script}</script>\n" if script else ""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{stylesheet()}</style>\n</head>\n"
        f'<body class="page">\n{contents}<main>\n{body}\n</main>\n{ours}</body>\n</html>\n'
    )


def closing(made_from: Provenance) -> Html:
    """Close the page: cautions, then what it was made from.

    Parameters
    ----------
    made_from : Provenance
        The answers, with what they were made from.

    Returns
    -------
    Html
        A piece of the page.
    """
    made = stamp(made_from)
    lines = (
        ("Records", f"{made_from.source}, SHA-256 {made['records_sha256']}"),
        ("Settings", f"SHA-256 {made['settings_sha256']}"),
        ("As of", day(made_from.as_of)),
        ("Seed", made["seed"]),
        ("headlife", f"version {made['version']}"),
    )
    stamped = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in lines)
    return Html(
        f'<footer class="closing"><h2>Before you act on this page</h2>'
        f'{items(CAUTIONS)}<h2>Made from</h2><dl class="stamp">{stamped}</dl>'
        "<p>The same records, settings, date, seed and version give the same page.</p></footer>",
        "cautions, and what this page was made from",
    )
