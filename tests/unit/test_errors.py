"""The tree of errors: every branch under DrapeError, drawn in its docstring, given by the package."""

from __future__ import annotations

import inspect

import drape
from drape import errors
from drape.errors import DrapeError, NotSettledError

OWN = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if kind.__module__ == errors.__name__]
TREE = [kind for kind in OWN if not issubclass(kind, Warning)]


def test_every_error_is_a_drape_error() -> None:
    assert len(TREE) >= 8
    assert [kind for kind in TREE if not issubclass(kind, DrapeError)] == []


def test_every_error_stands_in_the_drawing_and_has_its_own_words() -> None:
    drawing = errors.__doc__ or ""
    assert [kind.__name__ for kind in TREE if kind.__name__ not in drawing] == []
    assert [kind.__name__ for kind in TREE if not (kind.__doc__ or "").strip()] == []


def test_the_package_gives_every_error_and_its_version() -> None:
    assert {kind.__name__ for kind in TREE} | {"__version__"} <= set(drape.__all__)
    assert [name for name in drape.__all__ if not hasattr(drape, name)] == []


def test_not_settled_carries_its_evidence() -> None:
    evidence = object()
    error = NotSettledError("solver: not settled", fitting=evidence)
    assert error.fitting is evidence
    assert str(error) == "solver: not settled"
    assert NotSettledError("solver: not settled").fitting is None
