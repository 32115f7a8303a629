"""The limits of the requirements R1 to R11, one place for core, bench and reports.

Times in ms, lengths in mm. Where the limit belongs to a site (buffer force,
bottom slack, dead wraps, budget, trip level) the site states it.
"""

from leafwinch.numbers import const

R1_OFF_MS = const(200)  # control released to motor current zero and brake set
R1_OVERRUN_MM = const(100)  # at the fastest point, after release
R3_PAUSE_MS = const(500)  # between one direction and the other
R9_HUNG_OFF_MS = const(150)  # controller hung to line contactor open

REQUIREMENTS = (
    ("R1", "no powered motion unless the control is actuated that way", "200 ms, 100 mm"),
    ("R2", "never past an end", "buffer force below rated; bottom slack and dead wraps per site"),
    ("R3", "never both directions at once; pause before reversal", "500 ms"),
    ("R4", "no start until neutral was seen after power-up, reset, fault, recovery or stop", "-"),
    ("R5", "a trip latches, with the first and right cause", "-"),
    ("R6", "a single defect neither starts nor keeps it running, and is found", "next demand"),
    ("R7", "energised time one way stays within the budget", "per site"),
    ("R8", "overcurrent trips in time", "per level"),
    ("R9", "a hung controller lets the line contactor go", "150 ms"),
    ("R10", "with nothing wrong every travel completes, also after a defect is mended", "-"),
    ("R11", "gravity motion that no control can prevent is listed", "reported"),
)
