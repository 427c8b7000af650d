"""When to swap, and whether heads may run past their rating: cost, risk, advice."""
