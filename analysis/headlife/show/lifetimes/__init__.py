"""Ratings judged from a plain table of lifetimes, as people and programs see them."""
