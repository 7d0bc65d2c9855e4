"""Kernel: how the inner loops are compiled, all alike.

In: a plain loop over arrays. Out: the same compiled, once, and kept on disk. Numbers that stand side by side, such as
a point's x, y and z, are reckoned at once where the processor can: numba leaves that off unless it is asked.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, overload

import numba
from numba.core import config

config.SLP_VECTORIZE = 1  # type: ignore[attr-defined]  # numba makes its settings when it is loaded


Loop = TypeVar("Loop", bound=Callable[..., Any])


@overload
def kernel(loop: Callable[..., Any]) -> Any: ...
@overload
def kernel(*, inline: str) -> Callable[[Loop], Loop]: ...
def kernel(loop: Any = None, *, inline: str = "") -> Any:
    """The loop, compiled when it is first called with a kind of array. inline: "always" puts it into its callers."""
    copied: dict[str, Any] = {"inline": inline} if inline else {}
    return numba.njit(loop, cache=True, error_model="numpy", **copied)
