"""Swaps in the gaps between the builds ahead: one printer, shared spares, the days, the plan."""
