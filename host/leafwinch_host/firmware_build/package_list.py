"""Writes firmware/package.json, the list that MicroPython's standard installer reads.

The installer copies plain sources; the board then compiles them when it starts. It takes
more of the board's memory than the compiled program of `leafwinch board load`, and keeps no
previous version. Run as `python -m leafwinch_host.firmware_build.package_list`.
"""

import json
import sys

from leafwinch_host import version
from leafwinch_host.firmware_build.build import MANIFEST, source_program
from leafwinch_host.firmware_build.closure import firmware_folder

NAME = "package.json"


def package_list() -> str:
    """Return the list: every file of the program, from where it lies to where it goes."""
    names = [name for name in source_program().files if name != MANIFEST]
    content = {"urls": [[name, name] for name in names], "deps": [], "version": version()}
    return json.dumps(content, indent=2) + "\n"


def main() -> int:
    """Write the list beside main.py."""
    (firmware_folder() / NAME).write_text(package_list(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
