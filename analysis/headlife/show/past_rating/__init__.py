"""Running heads past their rating, as people and programs see it."""
