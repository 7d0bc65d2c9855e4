"""Neck edge: the edges of a cloak that make it, found by their names, and where they lie.

In: the named edges of a mesh or a fitting. Out: names, and positions [m], from the closure round to the closure.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from drape.arrays import Floats

if TYPE_CHECKING:
    from drape.reading.result import Fitting


def neck_edge(fitting: Fitting) -> Floats:
    """Positions (k, 3) [m] along the neck edge, from the closure round to the closure."""
    return np.vstack([fitting.worn[fitting.edges[name]] for name in neck_names(fitting.edges)])


def neck_names(edges: Iterable[str]) -> list[str]:
    """The names of the edges that make the neck edge, from the closure round to the closure."""
    return [name for name in edges if name.endswith(" neck") or " neck " in name][::-1]
