"""One claim, many values: a few are tried by README's test command, the others where there is more time."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def most_are_long(values: Iterable[Any], *keep: Any) -> list[Any]:
    """The values of a family, to parametrize with: those in `keep` are always tried, all others are marked `long`.

    A row of several values is kept by its first, or as a whole. Raises ValueError where one to keep is not there.
    """
    rows = [value if isinstance(value, tuple) else (value,) for value in values]
    if missing := [one for one in keep if not any(one in (row, row[0]) for row in rows)]:
        raise ValueError(f"most_are_long: got {missing} to keep, allowed {rows}")
    always = [row in keep or row[0] in keep for row in rows]
    return [pytest.param(*row, marks=() if now else pytest.mark.long) for row, now in zip(rows, always, strict=True)]
