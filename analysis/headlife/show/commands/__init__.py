"""The commands of the terminal, one module each: `add_arguments(parser)` and `run(args) -> int`."""
