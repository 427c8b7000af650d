"""For the vendor: one page on one head type, and nothing else of the shop."""
