"""Figures: Axes in, Axes out. One function computes elsewhere what another draws here."""

from __future__ import annotations

import contextlib
import logging
from pathlib import Path

# Where nobody keeps its log, what Matplotlib remarks on its own folders (a home that cannot be
# written to, a first run) would stand on the error stream as if something were wrong.
if not logging.getLogger("matplotlib").hasHandlers():
    logging.getLogger("matplotlib").setLevel(logging.ERROR)

# Matplotlib reads a file matplotlibrc in the folder where it is first imported; a broken one stops
# it. Imported from here it reads none of the folder we are called from.
with contextlib.chdir(Path(__file__).parent):
    import matplotlib as matplotlib
