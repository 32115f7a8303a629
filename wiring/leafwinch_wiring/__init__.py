"""The wiring as data: netlists, the resistive contact network, the defect catalogue."""

import os

# The networks are small and solved one at a time: more threads only wait for each other.
# It must stand before the first import of numpy, which reads it once.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
