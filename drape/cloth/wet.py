"""Wet: a dry cloth and what is known of it wet → the cloth as it hangs when it is wet through and has dripped off.

In: a `Cloth`, the shares that its file gives. Out: a `Cloth` that is heavier, limper and rougher; what nobody gave is
estimated and named in its `filled`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from drape.cloth.sheet import Cloth

# Where nobody measured it: of wool cloth, from memory. It holds three fifths of its weight in water once it has dripped
# off, every stiffness is three fifths of the dry one, and it clings.
USUAL: Final[Mapping[str, float]] = MappingProxyType({"water": 0.6, "wet_stiffness": 0.6})
CLINGS: Final = 0.1  # added to either friction
WET_VALUES: Final = ("water", "wet_stiffness", "wet_friction_on_cloth", "wet_friction_on_figure")


def wetted(cloth: Cloth, given: Mapping[str, float]) -> Cloth:
    """The cloth wet. given: those of WET_VALUES that are known: water and wet_stiffness as shares of the dry
    cloth's weight and of every stiffness it has.

    A bending length is that of the heavier cloth: c³ = B / (w g), so c shrinks by the cube root of stiffness over
    weight.
    """
    known = {**USUAL, **given}
    weight, stiffness = 1.0 + known["water"], known["wet_stiffness"]
    bent = (stiffness / weight) ** (1.0 / 3.0)
    filled = tuple(name for name in WET_VALUES if name not in given)
    words = f"wet: {100 * known['water']:.0f} % water, {100 * stiffness:.0f} % of every stiffness"
    return replace(
        cloth,
        name=f"{cloth.name}, wet",
        areal_density=weight * cloth.areal_density,
        bending_length_warp=bent * cloth.bending_length_warp,
        bending_length_weft=bent * cloth.bending_length_weft,
        tensile_stiffness_warp=stiffness * cloth.tensile_stiffness_warp,
        tensile_stiffness_weft=stiffness * cloth.tensile_stiffness_weft,
        shear_stiffness=stiffness * cloth.shear_stiffness,
        friction_on_cloth=known.get("wet_friction_on_cloth", cloth.friction_on_cloth + CLINGS),
        friction_on_figure=known.get("wet_friction_on_figure", cloth.friction_on_figure + CLINGS),
        source="; ".join([cloth.source, words, *([f"estimated, from memory: {', '.join(filled)}"] if filled else [])]),
        filled=(*cloth.filled, *filled),
    )
