"""Compiles the firmware for a board: what is loaded, and what the virtual board runs."""

from leafwinch_host.firmware_build.build import (
    Program,
    build_program,
    built,
    known_programs,
    source_program,
)
from leafwinch_host.firmware_build.targets import TARGETS, Target, target_named

__all__ = [
    "TARGETS",
    "Program",
    "Target",
    "build_program",
    "built",
    "known_programs",
    "source_program",
    "target_named",
]
