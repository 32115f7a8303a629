"""Schedules of a netlist as plain tables: terminals, cables, cores, wires and parts."""
