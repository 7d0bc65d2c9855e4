"""What can be asked of `drape wear`."""

from __future__ import annotations

from drape.wearing.choices import DOINGS, HOWS, LEAN_DEG, USUAL_LEAN_DEG


def test_names_differ_and_the_usual_lean_is_allowed():
    assert len(set(HOWS)) == len(HOWS) == 5
    assert len(set(DOINGS)) == len(DOINGS) == 4
    assert LEAN_DEG[0] < USUAL_LEAN_DEG < LEAN_DEG[1]
