"""Task: one settling, done by a worker wherever it runs.

In: a packed `Job`. Out: what came of it as plain JSON: readings, dimensions, seconds, versions; or why there are none.
What settled is kept in the worker's own cache, so that a task asked for again is answered at once. Who asks is left to
`engine`.
"""

from __future__ import annotations

import json
import platform
import threading
import time
from collections.abc import Mapping
from importlib import metadata
from typing import Any, Final

from drape import __version__
from drape.cache import program_digest
from drape.errors import DrapeError, NotSettledError
from drape.fitting.settling_process import FAILED as BROKEN
from drape.fitting.settling_process import SETTLED as WHOLE
from drape.fitting.settling_process import Job, packed, settled, unpacked
from drape.reading.result import Fitting
from drape.reading.table import edge_dimensions
from drape.units import rounded

SETTLED, NOT_SETTLED, FAILED = "settled", "not settled", "failed"  # what came of a settling
LIBRARIES: Final = ("numpy", "scipy", "numba", "netgen-mesher")
ALONE: Final = threading.Lock()  # the compiled loops are not for two settlings in one process at a time


def work(sent: bytes) -> bytes:
    """What comes of a settling, as JSON; see `outcome_of`."""
    with ALONE:
        return json.dumps(outcome_of(unpacked(sent))).encode()


def work_whole(sent: bytes) -> bytes:
    """What comes of a settling, whole: settled or failed, and its `Fitting` or its error, packed as it was sent."""
    try:
        with ALONE:
            return packed((WHOLE, settled(unpacked(sent), None, None)))
    except DrapeError as error:
        return packed((BROKEN, error))


def outcome_of(job: Job) -> dict[str, Any]:
    """{state, why, readings, dimensions, seconds, versions}: readings and dimensions only of what settled.

    Readings are those of `drape sit`; dimensions of the draft with their units; seconds those of the run that settled
    it, which may be an earlier one.
    """
    began = time.perf_counter()
    try:
        fitting = settled(job, None, None)
    except NotSettledError as error:
        return _came_to(NOT_SETTLED, str(error), time.perf_counter() - began)
    except DrapeError as error:
        return _came_to(FAILED, str(error), time.perf_counter() - began)
    return _came_to(SETTLED, "", seconds_of(fitting.readings), fitting)


def _came_to(state: str, why: str, seconds: float, fitting: Fitting | None = None) -> dict[str, Any]:
    dimensions = {} if fitting is None else edge_dimensions(fitting.about["dimensions"])
    return {
        "state": state,
        "why": why,
        "readings": None if fitting is None else dict(fitting.readings),
        "dimensions": rounded(dimensions),
        "seconds": round(seconds, 3),
        "versions": versions(),
    }


def seconds_of(readings: Mapping[str, Any]) -> float:
    """How long a settling took, all its parts together [s]."""
    return float(sum(readings.get("seconds", {}).values()))


def versions() -> dict[str, str]:
    """What made a result: drape, Python and the libraries that reckon, and the digest of them all with the machine."""
    found = {"drape": __version__, "python": platform.python_version()}
    found |= {name: metadata.version(name) for name in LIBRARIES}
    return found | {"program": program_digest()[:12]}
