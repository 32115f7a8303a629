"""Makes or fills the file of a board's flash: `installer.py IMAGE [FOLDER]` in MicroPython.

A file of zero length becomes an empty flash; then everything in FOLDER is copied into it.
"""

# There is no pathlib in MicroPython.
# ruff: noqa: PTH102, PTH116, PTH123, PTH208

import os
import sys

sys.path.insert(0, sys.argv[0].rsplit("/", 3)[0])

import vfs  # type: ignore[import-not-found, unused-ignore]

from leafwinch_sim.stand_in.flash import PAGE, SECTOR, SECTORS, Flash

FOLDER = 0x4000  # bit of a file's mode


def copy(source: str, target: str) -> None:
    """Copy everything in a folder."""
    for name in os.listdir(source):
        path = source + "/" + name
        if os.stat(path)[0] & FOLDER:
            os.mkdir(target + "/" + name)
            copy(path, target + "/" + name)
        else:
            with open(path, "rb") as file:
                data = file.read()
            with open(target + "/" + name, "wb") as file:
                file.write(data)


def main() -> None:
    """Make and fill."""
    image = sys.argv[1]
    empty = not os.stat(image)[6]
    flash = Flash(image, None)
    if empty:
        for _ in range(SECTORS):
            flash.file.write(b"\xff" * SECTOR)
        vfs.VfsLfs2.mkfs(flash, progsize=PAGE)
    vfs.mount(vfs.VfsLfs2(flash, progsize=PAGE, mtime=False), "/flash")
    if len(sys.argv) > 2:
        copy(sys.argv[2], "/flash")
    vfs.umount("/flash")
    flash.file.close()


if __name__ == "__main__":
    main()
