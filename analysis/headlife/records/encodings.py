"""In which encoding is a text file written?

Answers from its bytes. A byte-order mark, the zero bytes of UTF-16 and text that is valid UTF-8
are certain. Anything else is only likely: the encoding under which every letter belongs to one of
the nine languages, else what the library charset-normalizer finds; a person confirms it.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from pathlib import Path
from typing import Final

_BYTE_ORDER_MARKS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    # Before those of UTF-16, with which the first one begins.
    (b"\xff\xfe\0\0", "utf-32"),
    (b"\0\0\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_SAMPLE_BYTES: Final = 4_096
_MOST_BYTES: Final = 200_000  # of lines that are not plain ASCII
_MOST_ZEROS_APART: Final = 0.2  # share of zero bytes on one side from which a text is UTF-16
# In the order in which they are tried, for texts that fit several: Windows before the others.
_LIKELY: Final = (
    *("cp1252", "cp1250", "iso8859_2", "cp850", "cp852", "mac_roman", "mac_latin2"),
    *("cp932", "euc_jp"),
)
# Letters beyond ASCII, from memory, and signs that any of them may use.
_LETTERS: Final = {
    "de": "äöüß",
    "fr": "àâæçéèêëîïôœùûüÿ",
    "es": "áéíñóúüºª",
    "it": "àèéìíîòóùúº",
    "nl": "áéèêëíïóöúü",
    "pl": "ąćęłńóśźż",
    "pt": "ãáâàçéêíõóôúüºª",
}
_SIGNS: Final = "€°§·–—‘’‚“”„…«»\xa0½µ×"


def certain_encoding(path: Path) -> str | None:
    """Give the encoding that the first bytes prove: a byte-order mark, or UTF-16 without one.

    Parameters
    ----------
    path : Path
        A text file.

    Returns
    -------
    str or None
        None when the bytes prove nothing; such a file is read as UTF-8, which proves itself.
    """
    with path.open("rb") as stream:
        start = stream.read(_SAMPLE_BYTES)
    marked = next((name for mark, name in _BYTE_ORDER_MARKS if start.startswith(mark)), None)
    if marked or b"\0" not in start:
        return marked
    even, odd = start[::2].count(0), start[1::2].count(0)
    enough = _MOST_ZEROS_APART * len(start) / 2
    if max(even, odd) < enough or min(even, odd) >= enough:
        return None
    return "utf-16-be" if even > odd else "utf-16-le"


def stated_encoding(path: Path, stated: str) -> str:
    """Give the encoding to open a file with that is said to be of one: UTF-16 may lack its mark.

    Parameters
    ----------
    path : Path
        The file.
    stated : str
        Its stated encoding.

    Returns
    -------
    str
        Name of the encoding.
    """
    if codecs.lookup(stated).name != "utf-16":
        return stated
    return certain_encoding(path) or "utf-16-le"


def likely_encoding(path: Path) -> str | None:
    """Give the encoding that a text which is not UTF-8 is most likely written in.

    Parameters
    ----------
    path : Path
        A text file.

    Returns
    -------
    str or None
        None when the text is UTF-8, or nothing fits.
    """
    sample = _sample(path)
    if certain_encoding(path) or _is(sample, "utf-8"):
        return None
    for name in ("iso2022_jp",) if b"\x1b" in sample else _LIKELY:
        text = _decoded(sample, name)
        if text is not None and _in_one_language(text):
            return name
    from charset_normalizer import from_bytes

    found = from_bytes(sample).best()
    return None if found is None else str(found.encoding)


def _sample(path: Path) -> bytes:
    """Take the first line and the first lines that are not plain ASCII."""
    with path.open("rb") as stream:
        return b"".join(_lines(stream.readline(_MOST_BYTES), iter(stream)))


def _lines(first: bytes, rest: Iterator[bytes]) -> Iterator[bytes]:
    yield first
    taken = len(first)
    for line in rest:
        if not line.isascii() or b"\x1b" in line:
            taken += len(line)
            yield line
            if taken > _MOST_BYTES:
                return


def _is(sample: bytes, encoding: str) -> bool:
    # Escape sequences are plain ASCII; they tell the Japanese mail encoding.
    return b"\x1b" not in sample and _decoded(sample, encoding) is not None


def _decoded(sample: bytes, encoding: str) -> str | None:
    try:
        return sample.decode(encoding)
    except UnicodeDecodeError:
        return None


def _in_one_language(text: str) -> bool:
    beyond = {c for c in text.casefold() if not c.isascii()}
    return any(beyond <= set(letters) | set(_SIGNS) for letters in _LETTERS.values()) or all(
        _is_japanese(c) for c in beyond
    )


def _is_japanese(character: str) -> bool:
    return (
        "\u3000" <= character <= "\u30ff"  # punctuation, hiragana, katakana
        or "\u4e00" <= character <= "\u9fff"  # kanji
        or "\uff01" <= character <= "\uff9f"  # full and half width
        or character in _SIGNS
    )
