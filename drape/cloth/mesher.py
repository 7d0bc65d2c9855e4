"""The mesher: an outline's own vertices, and lines inside it, in; inner vertices and triangles out.

netgen fills what lies between. It may not move a vertex of ours; where it has cut one of our sides in two, that can be
undone. Which vertices stand on the outline is left to `mesh`, and so is whether the triangles are good enough.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import shapely
from scipy.spatial import cKDTree

from drape.arrays import Floats, Ints
from drape.draft.cloak import OPEN_SWEEP
from drape.draft.neckline import direction
from drape.draft.outline import squeezed
from drape.errors import MeshError
from drape.triangle import sides_of, triangle_areas

ON_SIDE = 1e-6  # of a side's length: a vertex nearer to it lies on it
SMOOTHING_STEPS = 3  # netgen's own rounds of swapping and smoothing


def quality_of(flat: Floats, triangles: Floats) -> Floats:
    """Return each triangle's shape, twice inradius over circumradius: 1 equilateral, 0 flat; shape (t,).

    With sides a, b, c and half their sum s: 8 (s - a)(s - b)(s - c) / (a b c).
    """
    corners = flat[triangles]
    a, b, c = (np.linalg.norm(corners[:, i] - corners[:, (i + 1) % 3], axis=1) for i in range(3))
    s = (a + b + c) / 2
    return np.maximum(8 * (s - a) * (s - b) * (s - c), 0.0) / (a * b * c)


def fill(
    placed: Floats,
    around: int,
    lines: Mapping[str, Ints],
    size: tuple[float, float],
    turn: float,
    sweep: float,
    *,
    is_uncut: bool = False,
) -> tuple[Floats, Ints]:
    """Return the inner vertices, shape (k, 2), and all triangles, numbered after those placed.

    placed: ours, of which the first `around` run round the outline. lines: indices along each line inside it. What lies
    between the lines is filled piece by piece. size: edge length [m] and grading. is_uncut: sides that netgen cut are
    made whole again.
    """
    squeeze = min(1.0, OPEN_SWEEP / sweep)
    ours = squeezed(placed, squeeze) @ _rotation(turn)
    inside, triangles, count = [], [], len(placed)
    for loop in _loops(ours, around, lines):
        points, own = _run_netgen(ours[loop], *size)
        if len(points) < len(loop) or np.abs(points[: len(loop)] - ours[loop]).max() > 1e-9:
            raise MeshError(
                f"mesh: the mesher moved the outline, got {len(points)} vertices, wanted ours kept. Try another edge "
                f"length."
            )
        if is_uncut:
            points, own = uncut(points, own, len(loop))
        number = np.concatenate([loop, count + np.arange(len(points) - len(loop))])
        inside.append(points[len(loop) :] @ _rotation(-turn))
        triangles.append(number[own])
        count += len(points) - len(loop)
    return _opened(np.vstack(inside), 1.0 / squeeze, sweep * squeeze), np.vstack(triangles)


def _loops(placed: Floats, around: int, lines: Mapping[str, Ints]) -> list[Ints]:
    """Return the vertices round each part between the lines, anticlockwise; without lines the outline's own."""
    if not lines:
        return [np.arange(around)]
    runs = [np.append(np.arange(around), 0), *lines.values()]
    sides = np.concatenate([np.column_stack([run[:-1], run[1:]]) for run in runs])
    faces = shapely.get_parts(shapely.polygonize(shapely.linestrings(placed[sides])))
    tree = cKDTree(placed)
    return [tree.query(shapely.get_coordinates(shapely.orient_polygons(face).exterior)[:-1])[1] for face in faces]


def _rotation(angle: float) -> Floats:
    """Return the matrix that turns row vectors by `angle`."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, s], [-s, c]])


def _opened(points: Floats, factor: float, sweep: float) -> Floats:
    """Return points inside a sector of `sweep` with their angle about O multiplied by `factor`."""
    if factor == 1.0:
        return points
    angle = np.arctan2(points[:, 1], points[:, 0])
    angle = np.where(angle < (sweep - 2 * math.pi) / 2, angle + 2 * math.pi, angle)
    return np.linalg.norm(points, axis=1)[:, None] * direction(angle * factor)


def _run_netgen(outline: Floats, edge_length: float, grading: float) -> tuple[Floats, Ints]:
    """Return netgen's vertices and triangles for a loop of fixed vertices."""
    from netgen.geom2d import SplineGeometry
    from netgen.meshing import SetMessageImportance

    SetMessageImportance(0)
    geometry = SplineGeometry()
    names = [geometry.AppendPoint(float(x), float(y)) for x, y in outline]
    for here, after in zip(names, names[1:] + names[:1], strict=True):
        geometry.Append(["line", here, after], leftdomain=1, rightdomain=0, maxh=100 * edge_length)
    try:
        made = geometry.GenerateMesh(maxh=edge_length, grading=grading, optsteps2d=SMOOTHING_STEPS)
    except Exception as error:  # netgen's own, of a kind that it does not name
        raise MeshError(f"mesh: the mesher gives up: {error}. Try another edge length.") from None
    points = np.array(made.Coordinates(), dtype=float)[:, :2]
    nodes = made.Elements2D().NumPy()["nodes"]
    triangles = np.asarray(nodes, dtype=np.int64).reshape(-1, nodes.shape[-1])[:, :3] - 1
    return points, triangles


def uncut(points: Floats, triangles: Ints, around: int) -> tuple[Floats, Ints]:
    """Return vertices and triangles without those vertices that cut a side of the outline in two.

    Each is drawn to that end of its side which leaves the better triangles. The first `around` points are the outline's
    own, in turn; what is wrong in another way stays as it is.
    """
    while True:
        sides, times = np.unique(np.sort(sides_of(triangles).reshape(-1, 2), axis=1), axis=0, return_counts=True)
        rim = sides[times == 1]
        cut = next((one for one in np.unique(rim[rim >= around]).tolist() if _is_on_side(points, rim, one)), None)
        if cut is None:
            break
        near = (triangles == cut).any(axis=1)
        drawn = []
        for end in np.setdiff1d(rim[(rim == cut).any(axis=1)], [cut]).tolist():
            new = np.where(triangles[near] == cut, end, triangles[near])
            new = new[(new[:, 0] != new[:, 1]) & (new[:, 1] != new[:, 2]) & (new[:, 2] != new[:, 0])]
            shape = np.where(triangle_areas(points[new]) > 0.0, quality_of(points, new), -1.0)
            drawn.append((float(shape.min(initial=1.0)), new))
        triangles = np.vstack([triangles[~near], max(drawn, key=lambda one: one[0])[1]])
    kept = np.union1d(np.arange(around), triangles)
    number = np.full(len(points), -1, dtype=np.int64)
    number[kept] = np.arange(len(kept))
    return points[kept], number[triangles]


def _is_on_side(points: Floats, rim: Ints, vertex: int) -> bool:
    """Whether a vertex on the rim lies straight between the two next to it there."""
    ends = np.setdiff1d(rim[(rim == vertex).any(axis=1)], [vertex])
    if len(ends) != 2:
        return False
    way, off = points[ends[1]] - points[ends[0]], points[vertex] - points[ends[0]]
    return bool(abs(way[0] * off[1] - way[1] * off[0]) < ON_SIDE * float(way @ way))
