"""A shop written by hand: settings and rows go into a folder and are read as a case."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import headlife as hl

HEADER = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"


def case_of(
    folder: Path, settings: str, rows: Iterable[str], header: str = HEADER, **options: Any
) -> hl.Case:
    """Write `log.csv` and `shop.toml`, and read them."""
    (folder / "shop.toml").write_text(settings, encoding="utf-8")
    (folder / "log.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return hl.read_case(folder / "log.csv", folder / "shop.toml", **options)
