"""Guided commissioning: one step after the other, watched on the trace, kept as a record."""
