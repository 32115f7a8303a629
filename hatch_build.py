"""Build hook: the shipped netlists lie beside their package and travel inside it."""

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class NetlistsInsidePackage(BuildHookInterface[Any]):
    """Add `wiring/*.toml` to the wheel as `leafwinch_wiring/netlists/*.toml`."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Leave an editable install alone, since there the files are already in place."""
        if version == "editable":
            return
        for path in sorted(Path(self.root, "wiring").glob("*.toml")):
            target = f"leafwinch_wiring/netlists/{path.name}"
            build_data["force_include"][str(path)] = target
