"""How benchmarks say what they measured: one line each, a ratio beside the one wanted."""

from __future__ import annotations


def report(name: str, ratio: float, target: str) -> None:
    """Print one line of the table (shown by pytest -rP or -s)."""
    print(f"{name:58s} {ratio:10.1f}   wanted {target}")
