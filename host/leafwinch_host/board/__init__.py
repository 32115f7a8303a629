"""Talking to a board on a serial port: reading its lines, asking it, loading its program."""
