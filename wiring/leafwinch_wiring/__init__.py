"""The wiring as data: netlists, the resistive contact network, the defect catalogue."""
