"""Arrays: what the program's arrays are called where their types are written.

In: nothing. Out: type aliases. Groups of arrays that travel together are NamedTuples, which compiled loops take as one
argument; each stands in the module whose matter it is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Pixels = NDArray[np.uint8]
