"""Many sites and many files, as people and programs see them."""
