"""Figures: Axes in, Axes out. One function computes elsewhere what another draws here."""

from __future__ import annotations

import contextlib
from pathlib import Path

# Matplotlib reads a file matplotlibrc in the folder where it is first imported; a broken one stops
# it. Imported from here it reads none of the folder we are called from.
with contextlib.chdir(Path(__file__).parent):
    import matplotlib as matplotlib
