"""Swaps between the builds ahead, as people and programs see them."""
