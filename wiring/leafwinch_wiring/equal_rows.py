"""Which rows of a table are equal: by a dictionary, many times as fast as sorting them."""

from typing import Any

import numpy as np
import numpy.typing as npt

Places = npt.NDArray[np.intp]


def equal_rows(table: npt.NDArray[Any]) -> tuple[Places, Places]:
    """Number the different rows of a table in the order in which they first appear.

    Returns:
        The number of each row, from 0, and for each number the first row that has it.
    """
    whole = np.ascontiguousarray(table)
    raw, width = whole.tobytes(), whole.shape[1] * whole.itemsize
    numbers: dict[bytes, int] = {}
    each = np.zeros(len(whole), dtype=np.intp)
    first: list[int] = []
    for row in range(len(whole)):
        key = raw[row * width : (row + 1) * width]
        if key not in numbers:
            numbers[key] = len(first)
            first.append(row)
        each[row] = numbers[key]
    return each, np.array(first, dtype=np.intp)
