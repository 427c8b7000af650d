"""Did the counter take heads out, or did the heads wear out?

Placeholder until the test is written.
"""

from __future__ import annotations

from typing import Any


def counter_findings(records: Any) -> list[tuple[str, str, str, str, str]]:
    """Nothing yet."""
    return []
