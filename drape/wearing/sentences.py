"""Sentences: one way of wearing, or what is done in it, said plainly.

In: its readings. Out: a sentence. Loads nothing heavy, since pages say it too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from drape.files import file_name
from drape.wearing.choices import ARM_FREE, STANDING, THROWN

Reading = Mapping[str, Any]

TURNED_DEG, RIDDEN_CM = 10.0, 2.0  # from which on it is said that a cloak has turned, or ridden back


def shape_name(scene: str, how: str, words: str = STANDING) -> str:
    """What the shape of one rest is called, as a file may be. words: where in a move it is."""
    parts = [scene, how, "" if words == STANDING else words]
    return file_name("-".join(part for part in parts if part).replace(", ", "-").replace(" ", "-").replace("°", "-deg"))


def named(way: Reading) -> str:
    """What a way, or a move in it, is called."""
    return str(way["how"]) if way["doing"] == STANDING else f"{way['how']}, {way['doing']}"


def said(way: Reading) -> str:
    """One way, or what is done in it, in a sentence."""
    return f"{named(way)}: {_found(way)}."


def said_together(ways: Sequence[Reading]) -> str:
    """One way and what is done in it, in sentences. Moves of which no more is to be said are named once."""
    first, *moves = ways
    same = [str(move["doing"]) for move in moves if _found(move) == _found(first)]
    told = [said(first), *([f"{', '.join(same)}: the same."] if same else [])]
    told += [f"{move['doing']}: {_found(move)}." for move in moves if _found(move) != _found(first)]
    return " ".join(f"{words[0].upper()}{words[1:]}" for words in told)


def said_by_way(ways: Sequence[Reading]) -> list[str]:
    """Each way with what is done in it, as `said_together` says it."""
    by_how: dict[str, list[Reading]] = {}
    for way in ways:
        by_how.setdefault(str(way["how"]), []).append(way)
    return [said_together(group) for group in by_how.values()]


def _under(arms: Reading) -> list[str]:
    """Of two arms whose hands are not free: whether each is under all round. What was saved earlier does not say."""
    bare = {side: " and ".join(arm.get("bare_at", ())) for side, arm in arms.items()}
    if not any(bare.values()):
        return ["both arms are under"]
    return [
        f"the {side} arm is under{f' only in front: it is bare {where}' if where else ''}"
        for side, where in bare.items()
    ]


def _found(way: Reading) -> str:
    if not way["settled"]:
        return "NOT SETTLED. Do not go by its numbers"
    found = []
    if way["how"] == THROWN:
        state = "it stays" if way["stays"] else "it does not stay"
        found.append(f"{state} over the shoulder; the edge slid {way['slid_cm']:.0f} cm")
    elif not way["stays"]:
        found.append(f"it does not stay: the neck edge slid {way['slid_cm']:.0f} cm")
    free = [side for side, arm in way["arms"].items() if arm["free"]]
    for side in free:
        found.append(f"the {side} arm is free; {way['arms'][side]['bare_cm']:.0f} cm of it bare, from the finger tips")
    if not free:
        found.extend(["no arm comes free"] if way["how"] == ARM_FREE else [])
        found.extend(_under(way["arms"]))
    if abs(way["turned_deg"]) > TURNED_DEG:
        found.append(f"turned {abs(way['turned_deg']):.0f}° to the {'left' if way['turned_deg'] > 0 else 'right'}")
    if way["ridden_back_cm"] > RIDDEN_CM:
        found.append(f"ridden back by {way['ridden_back_cm']:.1f} cm")
    if way["trodden_on"]:
        found.append("the hem is trodden on")
    return "; ".join(found)
