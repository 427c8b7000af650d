"""What do two settings files of one shop say differently?

From settings read twice; gives each key with its earlier and its present value. Judges neither.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from headlife.shop import Shop

NOT_STATED: Final = "not stated"


@dataclass(frozen=True)
class SettingChange:
    """One key that is not what it was."""

    table: str
    """Table of the settings."""
    key: str
    """Key in it, dots between the parts; empty where the table is a single value."""
    before: str
    """Earlier value; "not stated" where there was none."""
    after: str
    """Present value; "not stated" where there is none."""


def setting_changes(earlier: Shop, later: Shop) -> tuple[SettingChange, ...]:
    """Name every key in which two settings differ.

    Parameters
    ----------
    earlier, later : Shop
        The settings.

    Returns
    -------
    tuple of SettingChange
        In the order of the tables.
    """
    found = []
    for table in earlier.tables_unlike(later):
        before, after = (dict(_flat("", _plain(getattr(shop, table)))) for shop in (earlier, later))
        for key in dict.fromkeys([*before, *after]):
            old, new = before.get(key), after.get(key)
            if old != new:
                found.append(SettingChange(table, key, _said(old), _said(new)))
    return tuple(found)


def _plain(value: Any) -> Any:
    if hasattr(value, "model_dump"):
        return value.model_dump(by_alias=True)
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    return value


def _flat(path: str, value: Any) -> Iterator[tuple[str, Any]]:
    if not isinstance(value, Mapping):
        yield path, value
        return
    for key, one in value.items():
        yield from _flat(f"{path}.{key}" if path else str(key), one)


def _said(value: Any) -> str:
    return NOT_STATED if value is None else str(value)
