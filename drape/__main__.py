"""`python -m drape`: the same as the command `drape`."""

from __future__ import annotations

import sys

from drape.command.main import main

if __name__ == "__main__":
    sys.exit(main())
