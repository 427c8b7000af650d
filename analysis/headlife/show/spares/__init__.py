"""Spares and budget, as people and programs see them."""
