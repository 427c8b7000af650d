from __future__ import annotations

from pathlib import Path

import pytest

from headlife.shop import read_shop
from studies.large_fleet import SETTINGS, large_fleet, write_fleet


@pytest.fixture(scope="session")
def bureau(tmp_path_factory):
    """A small invented bureau: its settings, its log in five files and the same log in one."""
    folder = tmp_path_factory.mktemp("bureau")
    settings = folder / "shop.toml"
    settings.write_text(SETTINGS.replace("draws = 20000", "draws = 500"))
    table = large_fleet(9_000, years=4.0, seed=5)
    parts = folder / "parts"
    parts.mkdir()
    write_fleet(parts, table, 5)
    whole = folder / "whole.parquet"
    table.to_parquet(whole, index=False)
    return Bureau(read_shop(settings), parts, whole, table)


class Bureau:
    def __init__(self, shop, parts: Path, whole: Path, table):
        self.shop, self.parts, self.whole, self.table = shop, parts, whole, table
