"""Write texts of a shop into a settings file, each on one line whatever is in it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

TO_DO: Final = "# TO DO"
MOST_LISTED: Final = 200
_BARE: Final = re.compile(r"[A-Za-z0-9_-]+\Z")


def quote(text: str) -> str:
    """Write a text as TOML."""
    plain = "".join(c for c in text if not 0xD800 <= ord(c) <= 0xDFFF)
    return json.dumps(plain, ensure_ascii=False).replace("\x7f", "\\u007F")


def key(text: str) -> str:
    """Write a key: bare where TOML allows it."""
    return text if _BARE.match(text) else quote(text)


def many(texts: Iterable[str]) -> str:
    """Write a list of texts."""
    return f"[{', '.join(map(quote, texts))}]"


def inline(pairs: Mapping[str, str]) -> str:
    """Write an inline table of texts."""
    return "{ " + ", ".join(f"{key(name)} = {quote(text)}" for name, text in pairs.items()) + " }"


def comment(text: str) -> str:
    """Write a text into a comment."""
    return "".join(c if c.isprintable() else "?" for c in text)


def at_most(lines: Sequence[str]) -> list[str]:
    """Keep a list of lines short, and say how many more there are."""
    more = len(lines) - MOST_LISTED
    return [*lines[:MOST_LISTED], *([f"# and {more:,} more"] if more > 0 else [])]
