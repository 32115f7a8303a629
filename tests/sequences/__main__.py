"""`python -m tests.sequences`: hunts with the compiled build where there is one; see hunt.py."""

import sys

from leafwinch_host.compiled import choose_build

if __name__ == "__main__":
    choose_build()
    from tests.sequences.hunt import main

    sys.exit(main())
