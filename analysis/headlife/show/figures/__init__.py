"""Figures: each takes an Axes and returns it; its data are computed apart from its drawing."""
