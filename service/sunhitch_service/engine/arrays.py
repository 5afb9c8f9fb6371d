"""Names of the arrays that formulas take and return."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Integers = NDArray[np.int64]
Numbers = NDArray[np.intp]
"""Indices into arrays."""
