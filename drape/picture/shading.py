"""Shading: light from the sky, nap, the floor and its shadow, the cut face of a mannequin without its head.

In: surfaces, and the share of the sky their vertices see. Out: colours of vertices 0 to 255, a tile of nap, the floor
as a surface; how all is lit, for pictures and for the models that a page turns. What can be seen from where is found
by `stage`; nothing here draws.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats, Pixels
from drape.cloth.mesh import vertex_normals
from drape.picture.surfaces import Surface

FLOOR = np.array([229.0, 223.0, 211.0])
FLOOR_REACH, FLOOR_STEP = 1.1, 0.025  # [m] half width of the floor that is lit, and its grid
NAP_TILE, NAP_PIXELS = 0.08, 256  # [m] of cloth one tile of nap covers, and its pixels
NAP_DEPTH = 0.022  # how much lighter and darker the nap makes the cloth
NAP_MEAN = 1.0 - 2 * NAP_DEPTH  # of its colour is left by nap, on average
BRUSHED = ("outside", "inside", "lap")  # surfaces that have a nap
SKY_DIRECTIONS = 48
SKYLESS = 0.48  # of its colour is left where no sky is seen
AMBIENT, DIFFUSE = 0.36, 0.80  # of lit surfaces: wool and linen have no shine
# Where lights stand, x to the camera's right, y up, z towards it, and how strong they are. A broad one from the upper
# left, raking enough to show folds, and a weak fill. Seen from above, chest and arms would turn away from a light from
# above: there it stands lower.
KEY_PLACE, KEY_FROM_ABOVE, KEY_STRENGTH = (-1.0, 0.6, 0.75), (-1.0, 0.05, 0.9), 0.82
FILL_PLACE, FILL_STRENGTH = (1.0, -0.2, 0.9), 0.42
FROM_ABOVE = 0.5  # part of the way to the camera that is up, from where on it looks from above


def sky(count: int) -> tuple[Floats, Floats]:
    """Directions (k, 3) spread evenly over the sphere and the light from each: most from above."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * k
    radius = np.sqrt(1.0 - z * z)
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn), z]), 0.55 + 0.45 * z


def shaded(colour: Floats, openness: Floats) -> Pixels:
    """Colour of each vertex, (n, 3): its own, less what the sky does not reach."""
    share = SKYLESS + (1.0 - SKYLESS) * openness[:, None]
    return np.clip(np.rint(colour * share), 0, 255).astype(np.uint8)


def lights(toward_camera: Floats) -> tuple[tuple[tuple[float, float, float], float], ...]:
    """Where the lights stand for a camera that lies this way, (3,), and how strong each is."""
    key = KEY_FROM_ABOVE if toward_camera[2] > FROM_ABOVE else KEY_PLACE
    return (key, KEY_STRENGTH), (FILL_PLACE, FILL_STRENGTH)


def lit_alike() -> dict[str, float | list[float]]:
    """The same for what a page turns: directions to the lights, and what each adds to a colour that faces it."""
    directions = {"key": KEY_PLACE, "key_from_above": KEY_FROM_ABOVE, "fill": FILL_PLACE}
    return {
        **{name: (np.array(place) / np.linalg.norm(place)).round(4).tolist() for name, place in directions.items()},
        "key_adds": round(DIFFUSE * KEY_STRENGTH, 4), "fill_adds": round(DIFFUSE * FILL_STRENGTH, 4),
        "ambient": AMBIENT, "skyless": SKYLESS, "from_above": FROM_ABOVE,
    }  # fmt: skip


def floor_surface() -> Surface:
    """A square of floor to catch the shadow."""
    step = np.arange(-FLOOR_REACH, FLOOR_REACH + 1e-9, FLOOR_STEP)
    x, y = np.meshgrid(step, step, indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, -0.001)])
    k = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (k[:-1, :-1], k[1:, :-1], k[1:, 1:], k[:-1, 1:]))
    triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Surface("floor", points, triangles, np.tile((0.0, 0.0, 1.0), (x.size, 1)), FLOOR, np.empty(0, np.int64))


def softened(values: Floats, triangles: NDArray[np.int64], weld: NDArray[np.int64], rounds: int) -> Floats:
    """Values of vertices, each taken half way to the mean of its neighbours', so many times; one for welded ones."""
    from scipy.sparse import coo_array

    count = int(weld.max()) + 1
    shared = np.bincount(weld, weights=values, minlength=count) / np.maximum(np.bincount(weld, minlength=count), 1)
    a, b, c = weld[triangles].T
    row, column = np.concatenate([a, b, c, b, c, a]), np.concatenate([b, c, a, a, b, c])
    links = coo_array((np.ones(len(row)), (row, column)), shape=(count, count)).tocsr()
    number = np.maximum(links.sum(axis=1), 1.0)
    for _ in range(rounds):
        shared = 0.5 * shared + 0.5 * (links @ shared) / number
    return shared[weld]


def nap_tile() -> Pixels:
    """A tile of brushed wool, (p, p, 3), that fits itself all round: streaks along the first axis of the cloth."""
    noise = np.random.default_rng(1).standard_normal((NAP_PIXELS, NAP_PIXELS))
    wave = np.fft.fftfreq(NAP_PIXELS) * NAP_PIXELS / NAP_TILE  # [1/m]
    tile = np.zeros_like(noise)
    for along, across, weight in ((0.003, 0.0006, 1.0), (0.0006, 0.0006, 0.8)):  # [m]
        keep = np.exp(-2 * np.pi**2 * ((across * wave[:, None]) ** 2 + (along * wave[None]) ** 2))
        part = np.fft.ifft2(np.fft.fft2(noise) * keep).real
        tile += weight * part / part.std()
    grey = 255.0 * np.clip(NAP_MEAN + NAP_DEPTH * tile / tile.std(), 0.0, 1.0)
    return np.repeat(np.rint(grey).astype(np.uint8)[..., None], 3, axis=2)


def as_brushed(surface: Surface) -> Surface:
    """A surface in the colour that its nap, if it has one, leaves it on average."""
    return replace(surface, colour=NAP_MEAN * surface.colour) if surface.name in BRUSHED else surface


def with_flat_cut(points: Floats, triangles: NDArray[np.int64], normal: Floats, colour: Floats) -> Surface:
    """The cut mannequin, its cut face flat and darker, not rounded into the neck by shading."""
    level = points @ normal
    on_cut = (level[triangles] > level.max() - 1e-6).all(axis=1)
    face = points[triangles[on_cut]].reshape(-1, 3)
    body = triangles[~on_cut]
    added = len(points) + np.arange(len(face)).reshape(-1, 3)
    return Surface(
        "figure",
        np.vstack([points, face]),
        np.vstack([body, added]),
        np.vstack([vertex_normals(points, body), np.tile(normal, (len(face), 1))]),
        np.vstack([np.tile(colour, (len(points), 1)), np.tile(0.68 * colour, (len(face), 1))]),
        np.empty(0, np.int64),
    )
