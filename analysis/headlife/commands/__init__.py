"""The commands of the terminal, one module each: `add_arguments(parser)` and `run(args) -> int`.

`on_records` is no command but what those that answer from records and settings share.
"""
