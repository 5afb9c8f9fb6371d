"""Inner loops of a single solution, compiled: the same steps as those in NumPy.

Imported only by `accelerate`. In arrays as small as one roof's, NumPy spends its time on calls and
not on figures; here nothing is called and hardly an array is made.

The compiler keeps its result until the file of the entry changes, and does not notice a change in
any other (numba, "Notes on caching"): so no file here imports what its functions use, and limits
are passed.
"""

from .curves import each, placed, shifted, sums
from .points import best_powers, conductance_bounds, iterate

__all__ = ["best_powers", "conductance_bounds", "each", "iterate", "placed", "shifted", "sums"]
