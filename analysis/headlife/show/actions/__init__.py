"""What is to be done: on the first screen, as a table to fill in, and what came of it."""
