"""Colours of pictures: the scene's own, those of pieces, and the one scale readings are painted in.

In: colours as `#rrggbb`. Out: numbers 0 to 255, shape (3,) or (n, 3). Blue wool with an ochre inside and
bare linen are told apart with any colour vision; so are the pieces' colours (Okabe and Ito, 2008) and the
scale, cividis (Nuñez, Anderton and Renslow, 2018), whose steps look alike and grow lighter throughout.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from drape.arrays import Floats
from drape.errors import PictureError

COLOURS = {"outside": "#44648c", "inside": "#cf9a45", "figure": "#e9e1d1"}
PIECES = ("#56b4e9", "#e69f00", "#009e73", "#cc79a7", "#f0e442", "#0072b2", "#d55e00")
NO_VALUE = np.array([214.0, 211.0, 204.0])  # cloth a reading says nothing of
DARKEST_LUMA = 100.0  # of 255: folds in a darker cloth cannot be made out on paper
SCALE_FROM = 0.12  # of cividis: what is darker swallows the shading of folds
LUMA = (0.299, 0.587, 0.114)  # ITU-R BT.601


def rgb(colour: str) -> Floats:
    """Three numbers 0 to 255 from '#rrggbb'. Raises PictureError."""
    try:
        return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], float)
    except (ValueError, IndexError):
        raise PictureError(
            f"picture: colour: got {colour!r}, allowed '#rrggbb', such as '#44648c'. Write it so in the scene."
        ) from None


def hexed(colour: Floats) -> str:
    """'#rrggbb' of three numbers 0 to 255."""
    return "#" + "".join(f"{int(np.clip(round(float(c)), 0, 255)):02x}" for c in colour)


def legible(colour: Floats) -> Floats:
    """The colour, lightened toward white until folds shaded in it can still be made out."""
    luma = float(colour @ LUMA)
    if luma >= DARKEST_LUMA:
        return colour
    return colour + (255.0 - colour) * (DARKEST_LUMA - luma) / (255.0 - luma)


def given_colours(asked: Mapping[str, str]) -> dict[str, Floats]:
    """Outside, inside and figure as a picture uses them: the scene's, else ours."""
    given = {**COLOURS, **{k: v for k, v in asked.items() if v}}
    return {name: legible(rgb(given[name])) for name in COLOURS}


def piece_colours(count: int, outside: Floats) -> Floats:
    """A colour for each of the cloak's pieces (count, 3): the cloth's own while there is one."""
    if count == 1:
        return outside[None]
    return np.array([rgb(PIECES[k % len(PIECES)]) for k in range(count)])


def scale_colours(count: int) -> Floats:
    """`count` colours of the scale, lowest first, (count, 3)."""
    import matplotlib

    even = matplotlib.colormaps["cividis"](np.linspace(SCALE_FROM, 1.0, count))
    return np.asarray(255.0 * even[:, :3])
