"""Is a workbook small enough to be read at all? Looked at before anything of it is built.

Answers from the archive's list of parts and from counting tags in those parts that become objects
all at once: a few bytes of a packed file can otherwise become minutes and gigabytes. Sheets are
read cell by cell and need no count. Knows no table and builds nothing.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from headlife.errors import RecordsError

# Unpacked XML takes up to about 25 times its size in memory while it is read (measured on rows
# made to do harm). This holds some 100,000 rows of a log and keeps a hostile file within 2 GB;
# larger tables come as CSV.
MOST_UNPACKED_BYTES: Final = 64 * 2**20
_MOST_PARTS: Final = 2_000
# A sheet of a hundred thousand rows has some hundred thousand different texts; a text is at least
# 10 microseconds. Spreadsheet programs allow 64,000 cell formats.
MOST_TEXTS: Final = 600_000
_MOST_TAGS_A_TEXT: Final = 8
_MOST_TAGS: Final = 300_000
_TEXT: Final = re.compile(rb"<(?:[\w.-]+:)?(?:si|r|rPh)[\s/>]")
_TYPES: Final = "[Content_Types].xml"
_OVERRIDE: Final = re.compile(rb"<(?:[\w.-]+:)?Override\b[^>]*>")
_PART: Final = re.compile(rb"PartName\s*=\s*[\"']/?([^\"']*)[\"']")
_BLOCK: Final = 2**20
_OVERLAP: Final = 64  # longer than a tag that is looked for


def refuse_large_workbook(path: Path) -> None:
    """Refuse a workbook that would cost minutes or gigabytes.

    Parameters
    ----------
    path : Path
        A zip archive.

    Raises
    ------
    RecordsError
        It is no workbook, or too large unpacked, or made of too many parts, texts or formats.
    """
    with zipfile.ZipFile(path) as archive:
        parts = archive.infolist()
        names = {part.filename for part in parts}
        unpacked = sum(part.file_size for part in parts)
        if _TYPES not in names:
            raise RecordsError(
                f"{path.name}: this is a zip archive and no workbook; unpack it and name the table."
            )
        if unpacked > MOST_UNPACKED_BYTES or len(parts) > _MOST_PARTS:
            raise RecordsError(
                f"{path.name}: the workbook unpacks to {unpacked / 2**20:,.0f} MB in "
                f"{len(parts):,} parts; at most {MOST_UNPACKED_BYTES / 2**20:,.0f} MB can be read, "
                "save the sheet as CSV."
            )
        _refuse_many_tags(path, archive, _TYPES)
        texts, others = _built_at_once(archive, names)
        for name in others:
            _refuse_many_tags(path, archive, name)
        for name in texts:
            _refuse_many_texts(path, archive, name)


def _built_at_once(archive: zipfile.ZipFile, names: set[str]) -> tuple[set[str], set[str]]:
    """List the parts of texts, and the other parts that become objects before a sheet is read."""
    texts, others = set(), {name for name in names if name.endswith((".rels", "/styles.xml"))}
    others |= {name for name in names if name.startswith("docProps/")}
    for override in _OVERRIDE.findall(archive.read(_TYPES)):
        part = _PART.search(override)
        name = part[1].decode("utf-8", "replace") if part else ""
        if name in names and b"sharedStrings" in override:
            texts.add(name)
        elif name in names and (b"main+xml" in override or b"styles+xml" in override):
            others.add(name)
    return texts, others - texts


def _blocks(archive: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    with archive.open(name) as part:
        while block := part.read(_BLOCK):
            yield block


def _refuse_many_tags(path: Path, archive: zipfile.ZipFile, name: str) -> None:
    tags = 0
    for block in _blocks(archive, name):
        tags += block.count(b"<") - block.count(b"</")
        if tags > _MOST_TAGS:
            raise RecordsError(
                f"{path.name}: its part {name} has more than {_MOST_TAGS:,} entries, more formats "
                "or names than a spreadsheet program writes; save the sheet as CSV."
            )


def _refuse_many_texts(path: Path, archive: zipfile.ZipFile, name: str) -> None:
    texts = tags = 0
    before = b""
    for block in _blocks(archive, name):
        tags += block.count(b"<") - block.count(b"</")
        # A tag cut in two by the end of a block is whole in the next, and counted there only.
        whole = before + block
        end = max(whole.rfind(b"<"), len(whole) - _OVERLAP)
        texts += len(_TEXT.findall(whole, 0, end))
        before = whole[end:]
        if texts > MOST_TEXTS or tags > _MOST_TAGS_A_TEXT * MOST_TEXTS:
            raise RecordsError(
                f"{path.name}: the workbook has more than {MOST_TEXTS:,} texts; save the sheet as "
                "CSV."
            )
