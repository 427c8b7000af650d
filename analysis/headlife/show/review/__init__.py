"""The quarterly review, as people and programs see it."""
