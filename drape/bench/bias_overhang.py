"""How far strips cut at 45° hang over a table's edge → how hard their cloth is to twist.

In: the flexural rigidities of warp, weft and bias strips [N·m], how wide the bias strips are. Out: the twist rigidity
[N·m]. Reading the overhangs is left to `table_top`.

At 45° a narrow strip has B₄₅ = 4/(a + t) with a = 1/B₁ + 1/B₂ − 2ν/B₁ and t = 1/T, and as it is bent it curls
across, the other way, by (t − a)/(t + a) of that: see `stiffness_along`. The table's edge keeps the strip straight
across, so near the edge it cannot curl and is 1/(1 − curl²) times as stiff. How far that reaches hangs on its width:
of what is added a share h = 1 − exp(−2.7 width/overhang) is seen. Source of h: ours, from the solver's own strips, 0.1
to 0.5 as wide as they hang, of cloth with 0.3 to 0.9 of a plate's twist rigidity (`tests/bench/README.md`).
"""

from __future__ import annotations

import math
from typing import Final

REACH: Final = 2.7


def held_share(slender: float) -> float:
    """The share h of what the edge adds; slender: the strip's width over its overhang."""
    return -math.expm1(-REACH * slender)


def seen_rigidity(warp: float, weft: float, twist: float, *, poisson: float, slender: float) -> float:
    """Rigidity [N·m] that a strip cut at 45° shows over a table's edge."""
    a, t = 1 / warp + 1 / weft - 2 * poisson / warp, 1 / twist
    return 4 / (a + t) * (1 + held_share(slender) * (t - a) ** 2 / (4 * t * a))


def twist_rigidity(bias: float, warp: float, weft: float, *, poisson: float, slender: float) -> float:
    """Twist rigidity [N·m] of cloth whose strips cut at 45° show the rigidity `bias`: `seen_rigidity` turned round.

    With u = t/a, (a bias − h) u² + (a bias − 4 + 2h) u = h. Nought where no cloth is so limp on the bias.
    """
    a, h = 1 / warp + 1 / weft - 2 * poisson / warp, held_share(slender)
    square, half = a * bias - h, (a * bias - 4 + 2 * h) / 2
    if square <= 0:
        return 0.0
    return square / a / (math.sqrt(half * half + square * h) - half)
