"""`python -m headlife`: the same as the command `headlife`, where that is not on the path."""

import sys

from headlife.cli import main

if __name__ == "__main__":
    sys.exit(main())
