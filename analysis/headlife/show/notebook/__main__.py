"""Execute every notebook of one folder; copies with outputs go to another."""

from __future__ import annotations

import sys
from pathlib import Path

from headlife.show.page import missing_parts


def main(arguments: list[str]) -> int:
    """Execute the notebooks; 1 where a part of one could not be made.

    Parameters
    ----------
    arguments : list of str
        Words of the command line.

    Returns
    -------
    int
        Exit code: 0 done.
    """
    if len(arguments) != 2:
        print("usage: python -m headlife.show.notebook FROM TO", file=sys.stderr)
        return 2
    import nbformat

    from headlife.show.notebook.runner import execute

    source, target = Path(arguments[0]), Path(arguments[1])
    target.mkdir(parents=True, exist_ok=True)
    missing = 0
    for path in sorted(source.glob("*.ipynb")):
        executed = nbformat.writes(execute(path))  # type: ignore[no-untyped-call]
        (target / path.name).write_text(executed + "\n", encoding="utf-8")
        missing += missing_parts(executed)
        print(f"{path} ran to its end; with outputs: {target / path.name}")
    if missing:
        print(f"{missing} parts of these notebooks could not be made.", file=sys.stderr)
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
