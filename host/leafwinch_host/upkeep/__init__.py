"""Upkeep: trends out of journal and recorded cycles, and inspections that come due."""
