"""What is there today: positions and ages, use, stock, what is coming, how the shop works."""
