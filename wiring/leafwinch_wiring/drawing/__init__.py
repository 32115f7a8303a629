"""Circuit drawings made from a netlist."""

from leafwinch_wiring.drawing.sheets import Sheet, circuit_sheets, circuit_titles

__all__ = ["Sheet", "circuit_sheets", "circuit_titles"]
