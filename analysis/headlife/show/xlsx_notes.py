"""Comments on cells of somebody's workbook, and the notes that open over them.

From the text of the parts that hold them; what is there already stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

RELATIONS: Final = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_AUTHOR: Final = "headlife"
_LONGEST: Final = 2_000  # characters of a comment
# Declared on every shape: drawings of other programs declare them under names of their own.
_SPACES: Final = (
    'xmlns:v="urn:schemas-microsoft-com:vml" xmlns:o="urn:schemas-microsoft-com:office:office" '
    'xmlns:x="urn:schemas-microsoft-com:office:excel"'
)
_SHOWN: Final = (
    r"<(?:\w+:)?Row>\s*{row}\s*</(?:\w+:)?Row>\s*<(?:\w+:)?Column>\s*{column}\s*</(?:\w+:)?Column>"
)
# Elements that stand behind the link to the drawing of comments, by the file format's order.
_BEHIND: Final = (
    *("legacyDrawingHF", "drawingHF", "picture", "oleObjects", "controls", "webPublishItems"),
    *("tableParts", "extLst"),
)


@dataclass(frozen=True)
class Mark:
    """A cell to colour and comment."""

    sheet: str
    """Name of its sheet."""
    column: str
    """Its column, in letters."""
    row: int
    """Its row."""
    colour: str
    """Six hexadecimal digits: red, green, blue."""
    comment: str
    """What to say about it."""


def with_comments(text: str, marks: Sequence[Mark]) -> str:
    """Add comments to a sheet's list; a cell that has one keeps it and gets more lines.

    Parameters
    ----------
    text : str
        The part that holds the sheet's comments.
    marks : sequence of Mark
        What to say about which cell.

    Returns
    -------
    str
        The part.
    """
    before, tag, authors, rest = element(text, "authors")
    prefix = (re.match(r"<(\w+:)?", tag) or [""])[1] or ""
    number = len(re.findall(r"<(?:\w+:)?author\b", authors))
    text = f"{before}{tag}{authors}<{prefix}author>{_AUTHOR}</{prefix}author>{rest}"
    for mark in marks:
        where, said = f"{mark.column}{mark.row}", escape(_shortened(mark.comment), quote=False)
        run = f'<{prefix}r><{prefix}t xml:space="preserve">{{}}{said}</{prefix}t></{prefix}r>'
        own = re.search(rf'<(?:\w+:)?comment\b[^>]*\bref="{where}".*?</(?:\w+:)?text>', text, re.S)
        if own is not None:
            end = own[0].rindex("</")
            more = own[0][:end] + run.format("\n") + own[0][end:]
            text = text.replace(own[0], more, 1)
            continue
        before, tag, body, rest = element(text, "commentList")
        text = (
            f'{before}{tag}{body}<{prefix}comment ref="{where}" authorId="{number}"><{prefix}text>'
            f"{run.format('')}</{prefix}text></{prefix}comment>{rest}"
        )
    return text


def _shortened(comment: str) -> str:
    plain = "".join(c if c.isprintable() or c == "\n" else "?" for c in comment)
    return plain if len(plain) <= _LONGEST else plain[: _LONGEST - 3] + "..."


def with_shapes(text: str, marks: Sequence[Mark]) -> str:
    """Add the note that opens over each cell; a cell that has one keeps it.

    Parameters
    ----------
    text : str
        The drawing that shows the sheet's comments.
    marks : sequence of Mark
        The cells.

    Returns
    -------
    str
        The drawing.
    """
    shapes = []
    taken = len(re.findall(r"<(?:\w+:)?shape\b", text))
    for n, mark in enumerate(marks):
        row, column = mark.row - 1, _place(mark.column)
        if re.search(_SHOWN.format(row=row, column=column), text):
            continue
        lines = 2 + len(mark.comment) // 40
        shapes.append(
            f'<v:shape {_SPACES} id="headlife_{taken + n}" type="#_x0000_t202" '
            'style="position:absolute;visibility:hidden" fillcolor="#ffffe1" o:insetmode="auto">'
            '<v:fill color2="#ffffe1"/>'
            '<v:shadow on="t" color="black" obscured="t"/><v:path o:connecttype="none"/>'
            '<v:textbox style="mso-direction-alt:auto"/><x:ClientData ObjectType="Note">'
            "<x:MoveWithCells/><x:SizeWithCells/>"
            f"<x:Anchor>{column + 1}, 15, {max(row - 1, 0)}, 10, "
            f"{column + 5}, 15, {row + lines}, 4</x:Anchor><x:AutoFill>False</x:AutoFill>"
            f"<x:Row>{row}</x:Row><x:Column>{column}</x:Column></x:ClientData></v:shape>"
        )
    kind = (
        f"<v:shapetype {_SPACES} "
        'id="_x0000_t202" coordsize="21600,21600" o:spt="202" '
        'path="m,l,21600r21600,l21600,xe"><v:stroke joinstyle="miter"/>'
        '<v:path gradientshapeok="t" o:connecttype="rect"/></v:shapetype>'
    )
    if 'id="_x0000_t202"' not in text:
        shapes.insert(0, kind)
    place = text.rindex("</")
    return text[:place] + "".join(shapes) + text[place:]


def _place(column: str) -> int:
    place = 0
    for letter in column:
        place = place * 26 + ord(letter) - ord("A") + 1
    return place - 1


def with_drawing(text: str, link: str) -> str:
    """Link a sheet to the drawing of its comments, in the place that the format asks for.

    Parameters
    ----------
    text : str
        The sheet.
    link : str
        Name of the link.

    Returns
    -------
    str
        The sheet.
    """
    root = re.search(r"<(\w+:)?worksheet\b", text)
    prefix = (root[1] if root else "") or ""
    tag = f'<{prefix}legacyDrawing xmlns:r="{RELATIONS}" r:id="{link}"/>'
    places = [
        found.start()
        for name in _BEHIND
        if (found := re.search(rf"<(?:\w+:)?{name}\b", text)) is not None
    ]
    place = min([*places, text.rindex("</")])
    return text[:place] + tag + text[place:]


def element(text: str, name: str) -> tuple[str, str, str, str]:
    """Split a text at an element.

    Parameters
    ----------
    text : str
        XML.
    name : str
        The element.

    Returns
    -------
    tuple of str
        What is before it, its opening tag, its body, from its closing tag on.

    Raises
    ------
    ValueError
        There is no such element.
    """
    found = re.search(rf"(<(?:\w+:)?{name}\b[^>]*>)(.*?)(</(?:\w+:)?{name}>)", text, re.S)
    if found is None:
        raise ValueError
    return text[: found.start()], found[1], found[2], text[found.start(3) :]
