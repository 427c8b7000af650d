"""Past forecasts beside what happened, as people and programs see them."""
