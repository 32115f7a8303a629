"""How long a board's flash lasts: erases per travel against the sectors' endurance."""

DAYS_PER_YEAR = 365
CYCLES = 100_000
"""Erase cycles a sector of serial NOR flash stands: the usual data-sheet figure, from memory."""


def years_of_flash(
    erases_per_travel: float, travels_per_day: float, sectors: int = 1, cycles: int = CYCLES
) -> float:
    """Return after how many years the first sector has had all its erase cycles.

    erases_per_travel: sectors erased for one travel, above 0. travels_per_day: above 0. sectors:
    over how many the file system spreads them evenly, from 1 on. Raises ValueError for others.
    """
    if erases_per_travel <= 0 or travels_per_day <= 0 or sectors < 1 or cycles < 1:
        raise ValueError("flash wear needs erases, travels, sectors and cycles above zero")
    return cycles * sectors / (erases_per_travel * travels_per_day * DAYS_PER_YEAR)
