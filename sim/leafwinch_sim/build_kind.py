"""Which build of the sources runs: plain Python or compiled."""

from pathlib import Path

from leafwinch_sim import bench


def build_kind() -> str:
    """Return "plain" or "compiled"."""
    return "plain" if Path(bench.__file__).suffix == ".py" else "compiled"
