"""What to do about it: rating, demand, stock, replacement, from the posterior of a life."""
