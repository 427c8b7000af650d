"""Fixtures of the records room: the small shop, read."""

from __future__ import annotations

import pytest
from tests.records.small_shop import SETTINGS, as_csv, rows_of

import headlife as hl


@pytest.fixture
def shop(tmp_path):
    path = tmp_path / "shop.toml"
    path.write_text(SETTINGS)
    return hl.read_shop(path)


@pytest.fixture
def shop_with(tmp_path):
    """Give the small shop with more settings before its tables."""

    def make(extra: str):
        path = tmp_path / "shop_more.toml"
        path.write_text(SETTINGS.replace("[reasons.failures]", f"{extra}\n[reasons.failures]", 1))
        return hl.read_shop(path)

    return make


@pytest.fixture
def read(tmp_path, shop):
    """Write rows (or text) to a file and read them as records."""

    def make(rows=None, settings=None, name="log.csv", **options):
        path = tmp_path / name
        text = rows if isinstance(rows, str | bytes) else as_csv(rows or rows_of())
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return hl.read_records(path, settings or shop, **options)

    return make
