"""Runs inside the desktop MicroPython and plays a board's own modules, flash and prompt."""
