"""A hash of the program's own sources: work kept by another version is not gone on from."""

import hashlib
from importlib.resources import files
from pathlib import Path

PACKAGES = ("leafwinch", "leafwinch_wiring", "leafwinch_sim")
SUFFIXES = (".py", ".toml")


def own_sources() -> str:
    """Return the first 16 digits of a SHA-256 over the sources in use."""
    digest = hashlib.sha256()
    for package in PACKAGES:
        folder = Path(str(files(package)))
        for path in sorted(folder.rglob("*")):
            if path.suffix in SUFFIXES:
                digest.update(f"{package}/{path.relative_to(folder).as_posix()}".encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
