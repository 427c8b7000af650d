"""What stands at the end of every page: the cautions, and what it was made from.

From the provenance of an answer; the same records, settings, day, seed and version give the same
page.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.markup import Html, escape
from headlife.show.plain import stamp
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.days import day

if TYPE_CHECKING:
    from headlife.case import Provenance


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
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
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
        f'<footer class="closing"><h2>Before you act on this page</h2><ul>{cautions}</ul>'
        "<h2>Made from</h2>"
        f'<dl class="stamp">{stamped}</dl>'
        "<p>The same records, settings, date, seed and version give the same page.</p></footer>",
        "cautions, and what this page was made from",
    )
