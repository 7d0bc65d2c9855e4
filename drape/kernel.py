"""Kernel: how the inner loops are compiled, all alike.

In: a plain loop over arrays. Out: the same compiled, once, and kept on disk. Numbers that stand side by side, such as
a point's x, y and z, are reckoned at once where the processor can: numba leaves that off unless it is asked.
"""

from __future__ import annotations

from functools import partial

import numba
from numba.core import config

config.SLP_VECTORIZE = 1

kernel = partial(numba.njit, cache=True, error_model="numpy")
