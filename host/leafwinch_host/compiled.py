"""The compiled build of the same sources: where it is, whether it is fresh, switching to it.

It is made by `python -m leafwinch_host.compiled_build` and lies in the Python environment.
The environment variable LEAFWINCH_BUILD chooses: `plain` never uses it, `compiled` insists
on it, and without the variable it is used where it is there and made from these sources.
"""

import hashlib
import os
import sys
from importlib.util import find_spec
from pathlib import Path

from leafwinch_host.bad_build import BadBuild

PACKAGES = ("leafwinch", "leafwinch_wiring", "leafwinch_sim")
FOLDER = Path(sys.prefix) / "leafwinch-compiled"
STAMP = FOLDER / "sources.sha256"
VARIABLE = "LEAFWINCH_BUILD"
CHOICES = ("plain", "compiled")


def source_folders() -> dict[str, Path]:
    """Return where the plain sources of each package lie, without importing them."""
    found = {}
    for package in PACKAGES:
        spec = find_spec(package)
        places = list(spec.submodule_search_locations or ()) if spec is not None else []
        if not places:
            raise BadBuild(f"The package {package} is not installed.")
        found[package] = Path(places[0])
    return found


def plain_folder(package: str) -> Path:
    """Return where the plain sources of a package lie, also while the compiled build is used.

    Raises:
        BadBuild: the package is not installed.
    """
    for place in sys.path:
        folder = Path(place) / package
        if (folder / "__init__.py").is_file() and Path(place) != FOLDER:
            return folder
    raise BadBuild(f"The package {package} is not installed.")


def sources_hash(folders: dict[str, Path]) -> str:
    """Return the hash of all sources, of the Python version and of the machine."""
    digest = hashlib.sha256(f"{sys.version}{sys.platform}".encode())
    for package, folder in folders.items():
        for path in sorted(folder.rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(f"{package}/{path.relative_to(folder).as_posix()}".encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()


def choose_build() -> str:
    """Put the compiled build before the plain sources where it is wanted; return which is used.

    Must be called before anything of `leafwinch`, `leafwinch_wiring` or `leafwinch_sim` is
    imported.

    Raises:
        BadBuild: LEAFWINCH_BUILD is something else, or insists on a build that is not there.
    """
    wanted = os.environ.get(VARIABLE, "")
    if wanted not in ("", *CHOICES):
        raise BadBuild(f"{VARIABLE} is '{wanted}'; allowed are {' and '.join(CHOICES)}.")
    if wanted == "plain":
        return "plain"
    if not STAMP.is_file():
        if wanted:
            raise BadBuild("There is no compiled build here; 'make compiled' makes it.")
        return "plain"
    if STAMP.read_text(encoding="ascii") != sources_hash(source_folders()):
        sentence = "The compiled build is older than the sources; 'make compiled' renews it"
        if wanted:
            raise BadBuild(f"{sentence}.")
        print(f"leafwinch: {sentence}, the plain sources are used.", file=sys.stderr)
        return "plain"
    sys.path.insert(0, str(FOLDER))
    return "compiled"


def dask_setup(worker: object) -> None:
    """Choose the build in a worker of a cluster: `--preload leafwinch_host.compiled`."""
    choose_build()
