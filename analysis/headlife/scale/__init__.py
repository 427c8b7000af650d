"""Many sites, and records too large for one machine: the same answers from parts that add."""
