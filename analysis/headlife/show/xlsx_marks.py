"""Colour and comment cells in a copy of somebody's workbook, and change nothing else in it.

From the workbook's bytes and the marks: only the sheets marked, the list of styles and the parts
that hold comments are written anew, and of these only what the marks need; every other part (other
sheets, macros, pictures, charts) is taken over byte for byte. It reads no value of a cell.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Final

from headlife.errors import HeadlifeError
from headlife.show.xlsx_notes import (
    RELATIONS,
    Mark,
    element,
    with_comments,
    with_drawing,
    with_shapes,
)

_XML: Final = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_MAIN: Final = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELS_PART: Final = "http://schemas.openxmlformats.org/package/2006/relationships"
_COMMENTS_TYPE: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.comments+xml"
_VML_TYPE: Final = "application/vnd.openxmlformats-officedocument.vmlDrawing"
_ROW: Final = r'<((?:\w+:)?)row\b[^>]*?\br="{row}"[^>]*?(?:/>|>.*?</\1row>)'
_CELL: Final = re.compile(r'<((?:\w+:)?)c\b([^>]*?)\br="([A-Z]{1,3})[0-9]+"([^>]*?)(/?)>')
_ENTRY: Final = re.compile(r"<(?:\w+:)?xf\b[^>]*?/>|<(?:\w+:)?xf\b.*?</(?:\w+:)?xf>", re.S)
_STYLE: Final = re.compile(r'\s*\bs="(\d+)"')


def marked_workbook(data: bytes, marks: Iterable[Mark]) -> bytes:
    """Mark cells in a copy of a workbook.

    Parameters
    ----------
    data : bytes
        An XLSX or XLSM file.
    marks : iterable of Mark
        Cells to mark; several marks of one cell are joined.

    Returns
    -------
    bytes
        The copy.

    Raises
    ------
    HeadlifeError
        The workbook is not as spreadsheet programs write it.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as source:
        parts = {name: source.read(name) for name in source.namelist()}
        infos = source.infolist()
    try:
        changed = _Package(parts)
        for sheet, own in _by_sheet(marks).items():
            changed.mark(sheet, own)
    except (KeyError, StopIteration, UnicodeDecodeError, ValueError) as fault:
        raise HeadlifeError(
            f"The workbook cannot be marked ({type(fault).__name__}): it is not written as "
            "spreadsheet programs write it; open it in one, save it again, and check that."
        ) from None
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        for info in infos:
            target.writestr(info, changed.parts.pop(info.filename), info.compress_type)
        for name, part in changed.parts.items():
            target.writestr(zipfile.ZipInfo(name), part, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def _by_sheet(marks: Iterable[Mark]) -> dict[str, dict[tuple[int, str], Mark]]:
    """Group marks by sheet and cell; the first colour of a cell stays, comments are joined."""
    sheets: dict[str, dict[tuple[int, str], Mark]] = {}
    for mark in marks:
        own = sheets.setdefault(mark.sheet, {})
        before = own.get((mark.row, mark.column))
        if before is None:
            own[mark.row, mark.column] = mark
        elif mark.comment not in before.comment:
            both = f"{before.comment}\n{mark.comment}"
            own[mark.row, mark.column] = Mark(
                mark.sheet, mark.column, mark.row, before.colour, both
            )
    return sheets


class _Package:
    """The parts of a workbook while cells are marked."""

    def __init__(self, parts: dict[str, bytes]) -> None:
        self.parts = parts
        self._styles_part = self._target("xl/workbook.xml", "styles")
        self._fills: dict[str, int] = {}
        self._looks: dict[tuple[str, str], int] = {}

    def mark(self, sheet: str, marks: Mapping[tuple[int, str], Mark]) -> None:
        """Mark cells of one sheet."""
        name = self._sheet_part(sheet)
        text = self._text(name)
        for (row, column), mark in sorted(marks.items(), key=lambda one: one[0][0]):
            text = self._coloured(text, row, column, mark.colour)
        self.parts[name] = text.encode()
        self._comment(name, list(marks.values()))

    def _text(self, name: str) -> str:
        return self.parts[name].decode("utf-8-sig")

    def _sheet_part(self, sheet: str) -> str:
        book = self._text("xl/workbook.xml")
        own = next(
            tag
            for tag in re.findall(r"<(?:\w+:)?sheet\b[^>]*>", book)
            if f'name="{escape(sheet, quote=True)}"' in tag.replace("&apos;", "&#x27;")
        )
        link = re.search(r'\b\w+:id="([^"]+)"', own)
        if link is None:
            raise ValueError
        return self._linked("xl/workbook.xml", link[1])

    def _rels_name(self, part: str) -> str:
        folder, name = posixpath.split(part)
        return f"{folder}/_rels/{name}.rels"

    def _relations(self, part: str) -> list[dict[str, str]]:
        rels = self.parts.get(self._rels_name(part), b"").decode("utf-8-sig")
        return [
            dict(re.findall(r'(\w+)="([^"]*)"', tag))
            for tag in re.findall(r"<(?:\w+:)?Relationship\b[^>]*>", rels)
        ]

    def _linked(self, part: str, link: str) -> str:
        target = next(one["Target"] for one in self._relations(part) if one["Id"] == link)
        return self._resolved(part, target)

    def _resolved(self, part: str, target: str) -> str:
        if target.startswith("/"):
            return target[1:]
        return posixpath.normpath(posixpath.join(posixpath.dirname(part), target))

    def _target(self, part: str, kind: str) -> str:
        """Find the part of a kind that another one is linked to; empty where there is none."""
        for one in self._relations(part):
            if one.get("Type", "").endswith(f"/{kind}"):
                return self._resolved(part, one["Target"])
        return ""

    def _coloured(self, text: str, row: int, column: str, colour: str) -> str:
        found = re.search(_ROW.format(row=row), text, re.S)
        if found is None or not self._styles_part:
            return text
        line, prefix = found[0], found[1]
        head, _, cells = line.partition(">")
        if head.endswith("/"):
            head, cells = head[:-1], f"</{prefix}row>"
        before = 0
        for cell in _CELL.finditer(cells):
            if cell[3] == column:
                return text.replace(line, f"{head}>{self._restyled(cells, cell, colour)}", 1)
            if _order(cell[3]) < _order(column):
                before = _end_of_cell(cells, cell)
        own = f'<{prefix}c r="{column}{row}" s="{self._look("0", colour)}"/>'
        return text.replace(line, f"{head}>{cells[:before]}{own}{cells[before:]}", 1)

    def _restyled(self, cells: str, cell: re.Match[str], colour: str) -> str:
        tag = cell[0]
        style = _STYLE.search(tag)
        look = f' s="{self._look(style[1] if style else "0", colour)}"'
        bare = _STYLE.sub("", tag, count=1)
        end = "/>" if bare.endswith("/>") else ">"
        return cells[: cell.start()] + bare.removesuffix(end) + look + end + cells[cell.end() :]

    def _look(self, style: str, colour: str) -> int:
        """Give the number of a style with another fill; made once for each pair."""
        if (style, colour) not in self._looks:
            text = self._text(self._styles_part)
            if colour not in self._fills:
                text, self._fills[colour] = _appended(text, "fills", _fill(colour))
            formats = _ENTRY.findall(element(text, "cellXfs")[2])
            text, number = _appended(
                text, "cellXfs", _filled(formats[int(style)], self._fills[colour])
            )
            self._looks[style, colour] = number
            self.parts[self._styles_part] = text.encode()
        return self._looks[style, colour]

    def _comment(self, sheet: str, marks: Sequence[Mark]) -> None:
        comments = self._target(sheet, "comments")
        if not comments:
            comments = self._new_name("xl/comments", ".xml")
            self.parts[comments] = (
                f'{_XML}<comments xmlns="{_MAIN}">'
                "<authors></authors><commentList></commentList></comments>"
            ).encode()
            self._typed(f'<Override PartName="/{comments}" ContentType="{_COMMENTS_TYPE}"/>')
            self._link(sheet, "comments", comments)
        self.parts[comments] = with_comments(self._text(comments), marks).encode()
        drawing = self._drawing(sheet)
        self.parts[drawing] = with_shapes(self._text(drawing), marks).encode()

    def _drawing(self, sheet: str) -> str:
        """Find the drawing that shows the sheet's comments, or make it."""
        text = self._text(sheet)
        link = re.search(r'<(?:\w+:)?legacyDrawing\b[^>]*?\b\w+:id="([^"]+)"', text)
        if link is not None:
            return self._linked(sheet, link[1])
        drawing = self._new_name("xl/drawings/vmlDrawing", ".vml")
        self.parts[drawing] = b"<xml></xml>"
        if 'Extension="vml"' not in self._text("[Content_Types].xml"):
            self._typed(f'<Default Extension="vml" ContentType="{_VML_TYPE}"/>')
        number = self._link(sheet, "vmlDrawing", drawing)
        self.parts[sheet] = with_drawing(text, number).encode()
        return drawing

    def _new_name(self, stem: str, ending: str) -> str:
        number = 1
        while f"{stem}{number}{ending}" in self.parts:
            number += 1
        return f"{stem}{number}{ending}"

    def _typed(self, entry: str) -> None:
        """Say of what type a new part is."""
        types = self._text("[Content_Types].xml")
        place = types.rindex("</")
        if entry.startswith("<Default"):  # they come first
            place = types.index(">", types.index("<Types")) + 1 if "<Types" in types else place
        self.parts["[Content_Types].xml"] = (types[:place] + entry + types[place:]).encode()

    def _link(self, part: str, kind: str, target: str) -> str:
        """Link a part to another; give the link's name."""
        name = self._rels_name(part)
        taken = {one["Id"] for one in self._relations(part)}
        number = next(f"rIdMark{n}" for n in range(1, 10**6) if f"rIdMark{n}" not in taken)
        link = f'<Relationship Id="{number}" Type="{RELATIONS}/{kind}" Target="/{target}"/>'
        if name not in self.parts:
            self.parts[name] = (
                f'{_XML}<Relationships xmlns="{_RELS_PART}">{link}</Relationships>'
            ).encode()
            return number
        text = re.sub(
            r"<Relationships\b([^>]*)/>", r"<Relationships\1></Relationships>", self._text(name)
        )
        place = text.rindex("</")
        self.parts[name] = (text[:place] + link + text[place:]).encode()
        return number


def _order(column: str) -> tuple[int, str]:
    return len(column), column


def _end_of_cell(cells: str, cell: re.Match[str]) -> int:
    if cell[0].endswith("/>"):
        return cell.end()
    close = f"</{cell[1]}c>"
    return cells.index(close, cell.end()) + len(close)


def _appended(text: str, name: str, entry: str) -> tuple[str, int]:
    """Add an entry to a counted list; give the text and the entry's number."""
    before, tag, body, rest = element(text, name)
    prefix = re.match(r"<(\w+:)?", tag)
    if prefix is not None and prefix[1]:
        entry = re.sub(r"<(/?)(?=[a-z])", rf"<\1{prefix[1]}", entry.replace(f"<{prefix[1]}", "<"))
    count = re.search(r'\bcount="(\d+)"', tag)
    kinds = {"fills": "fill", "cellXfs": "xf"}
    number = len(re.findall(rf"<(?:\w+:)?{kinds[name]}\b", body))
    if count is not None:
        tag = tag.replace(count[0], f'count="{number + 1}"')
    return before + tag + body + entry + rest, number


def _fill(colour: str) -> str:
    return (
        f'<fill><patternFill patternType="solid"><fgColor rgb="FF{colour}"/>'
        '<bgColor indexed="64"/></patternFill></fill>'
    )


def _filled(style: str, fill: int) -> str:
    """Give a style with another fill."""
    tag, rest = style[: style.index(">") + 1], style[style.index(">") + 1 :]
    tag = re.sub(r'\s*\b(?:fillId|applyFill)="[^"]*"', "", tag)
    end = "/>" if tag.endswith("/>") else ">"
    return f'{tag.removesuffix(end)} fillId="{fill}" applyFill="1"{end}{rest}'
