"""How many heads to hold and what they cost: the fleet, its demand, its stock, its budget."""
