"""What to be careful of: wearer, cloth, length and fastening in; plain lines out, or none.

Each is our own advice or names its standard; none replaces local rules or a qualified person.
README and the guide print them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from drape.reading.verdict import THRESHOLDS

CHILD_STATURE: Final = 1.34  # m, about seven years: EN 14682:2014
TRIP_CLEARANCE_CM: Final = THRESHOLDS["clearance_cm"].value
THROAT_LINE_LOAD_N_M: Final = THRESHOLDS["throat_line_load_n_m"].value
FIRM_FASTENINGS: Final = {"ties": "ties", "clasp": "a clasp"}
WOOL_CLOTHS: Final = (
    "light suiting", "flannel", "coating", "heavy melton", "fulled broadcloth", "wet heavy melton",
)  # fmt: skip

THROWN_THROAT_N: Final = 5.0  # half a kilogram on the throat itself is felt at once; our choice


@dataclass(frozen=True)
class WornSo:
    """What is known of a cloak as it is worn and moved about in.

    thrown_throat_n: load on the throat with the front thrown over. trodden_on: whether some of the hem is. leaning:
    whether somebody leans in it.
    """

    thrown_throat_n: float | None = None
    trodden_on: bool = False
    leaning: bool = False


def cautions(
    *, sex: str, stature: float | None, cloths: Sequence[str], clearance_cm: float | None,
    throat_line_load_n_m: float | None = None, fastening: str | None = None,
    seated_on_floor_cm: float | None = None, worn: WornSo | None = None,
) -> list[str]:  # fmt: skip
    """What to be careful of with this wearer, cloth, length and fastening; empty when nothing applies.

    Each is our own advice or names its standard; none replaces local rules or a qualified person,
    and the last line says so. stature [m]. cloths: names of the layers.

    Sources: EN 14682:2014 and ASTM F1816-18 for cords at a child's neck; the rest is common practice,
    no source.
    """
    found: list[str] = []
    small = stature is not None and stature <= CHILD_STATURE
    if small:
        found.append(
            "Stature 134 cm or less: on a child no tie, cord or drawstring at neck or hood "
            "(EN 14682, ASTM F1816). Use a fastening that gives way under a pull."
        )
    elif sex == "child":
        found.append(
            "Child's figure: no cord or drawstring with free ends at neck or hood (EN 14682; ASTM "
            "F1816 allows none there up to size 12). Use a fastening that gives way under a pull."
        )
    elif fastening in FIRM_FASTENINGS:
        found.append(
            f"Fastened with {FIRM_FASTENINGS[fastening]}, which may not give way when the cloak is caught or pulled. "
            "Let it open, or tear off, under a hard pull."
        )
    if throat_line_load_n_m is not None and throat_line_load_n_m > THROAT_LINE_LOAD_N_M:
        found.append(
            f"The cloth presses on the throat with {throat_line_load_n_m:.0f} N per metre. Do not wear it fastened so: "
            "mend the neck first, and let the fastening give way."
        )
    if clearance_cm is not None and clearance_cm < TRIP_CLEARANCE_CM:
        found.append(
            f"The hem clears the floor by {clearance_cm:.1f} cm: a trip hazard. Keep at least "
            f"{TRIP_CLEARANCE_CM:.0f} cm, more on stairs, in crowds and near wheels or machines."
        )
    if seated_on_floor_cm:
        found.append(
            f"Seated, about {seated_on_floor_cm:.1f} cm of the hem lies on the floor, where chair legs, wheels and "
            "feet catch it. Gather it into the lap, and stand up clear of it."
        )
    if worn is not None:
        found += _worn_so(worn)
    if any(cloth not in WOOL_CLOTHS for cloth in cloths):
        found.append("Not known to be wool: keep a loose hem away from naked flame; test a scrap first.")
    if found:
        found.append("Local rules and qualified people come before these lines.")
    return found


def _worn_so(worn: WornSo) -> list[str]:
    """What to be careful of in the ways a cloak is worn."""
    found = []
    if worn.trodden_on:
        found.append("The hem is trodden on in a step. Take it up, or gather it in a hand: never on stairs as it is.")
    if worn.thrown_throat_n is not None and worn.thrown_throat_n > THROWN_THROAT_N:
        found.append(
            f"Thrown over, the front hangs from the throat with {worn.thrown_throat_n:.0f} N. Do not wear it so: move "
            "the closure off the throat, and let the fastening give way."
        )
    if worn.leaning:
        found.append(
            "Whoever leans brings hem and thrown front forward, over candles, stoves and machines. Keep naked flame "
            "and moving parts out of reach, or take the cloak off."
        )
    return found
