"""Kernel: how the inner loops are compiled, all alike.

In: a plain loop over arrays. Out: the same compiled, once, and kept on disk. Numbers that stand side by side, such as
a point's x, y and z, are reckoned at once where the processor can: numba leaves that off unless it is asked. What is
kept may be lost: where it is damaged it is thrown away, where it cannot be written the loop is compiled each time.
"""

from __future__ import annotations

import contextlib
import functools
from collections.abc import Callable
from typing import Any, TypeVar, overload

import numba
from numba.core import config
from numba.core.caching import FunctionCache

from drape.progress import say

config.SLP_VECTORIZE = 1  # type: ignore[attr-defined]  # numba makes its settings when it is loaded


Loop = TypeVar("Loop", bound=Callable[..., Any])


@overload
def kernel(loop: Callable[..., Any]) -> Any: ...
@overload
def kernel(*, inline: str) -> Callable[[Loop], Loop]: ...
def kernel(loop: Any = None, *, inline: str = "") -> Any:
    """The loop, compiled when it is first called with a kind of array. inline: "always" puts it into its callers."""
    if loop is None:
        return functools.partial(kernel, inline=inline)
    copied: dict[str, Any] = {"inline": inline} if inline else {}
    compiled = numba.njit(loop, error_model="numpy", **copied)
    compiled._cache = _Kept(loop)
    return compiled


class _Kept(FunctionCache):
    """What was compiled, on disk, as numba keeps it; whatever is wrong there costs time and nothing else."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # cut short, of another program, or not to be read
            self._throw_away()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        try:
            super().save_overload(sig, data)
        except OSError:  # no room, or no leave to write
            self._throw_away()

    def _throw_away(self) -> None:
        _say_once(str(self.cache_path))
        with contextlib.suppress(Exception):
            self.flush()


@functools.cache
def _say_once(folder: str) -> None:
    say(f"{folder}: compiled loops cannot be read or kept there. They are compiled anew, which takes up to a minute.")
