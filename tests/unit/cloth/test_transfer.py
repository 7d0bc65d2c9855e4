"""carry: places of the cloth found again on its worn surface, against exact surfaces;
and the start this gives a run.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from stand_in import standing_body

from drape.cloth.mesh import Mesh, morphed, partners, triangulate
from drape.cloth.relaxation import NO_PAIRS, Grip
from drape.cloth.sheet import cloth_forces, sew
from drape.cloth.transfer import BEYOND, carried, shares_in
from drape.draft.cloak import draft_cloak
from drape.draft.style import CollarStyle, Dart, Style
from drape.fitting.sit import moved_on

STYLE = Style("tailored", 1.1, darts=(Dart(),))
EDGE = 0.05  # [m]
RADIUS = 0.6  # [m] of the roll; a half circle of 1.3 m goes less than once round


@pytest.fixture(scope="module")
def draft():
    return draft_cloak(STYLE, standing_body())


@pytest.fixture(scope="module")
def mesh(draft) -> Mesh:
    return triangulate(draft, edge_length=EDGE)


@pytest.fixture(scope="module")
def deeper(draft, mesh) -> tuple:
    """The draft with its front neck 5 mm deeper and the mesh drawn over to it."""
    depth = draft.dimensions["front_neck_depth"] + 0.005
    changed = draft_cloak(dataclasses.replace(STYLE, front_neck_depth=depth), standing_body())
    return changed, morphed(mesh, draft, changed)


def tilted(flat: np.ndarray) -> np.ndarray:
    """The plane turned in space, unstretched."""
    along, across = np.array([0.6, 0.0, 0.8]), np.array([0.0, 1.0, 0.0])
    return flat[:, :1] * along + flat[:, 1:] * across


def rolled(flat: np.ndarray, radius: float = RADIUS) -> np.ndarray:
    """The plane wrapped round a cylinder of radius [m], unstretched."""
    turn = flat[:, 0] / radius
    return np.stack([radius * np.sin(turn), flat[:, 1], radius * np.cos(turn)], axis=1)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.004, -0.003), (-0.09, 0.06)])
def test_places_of_a_plane_are_found_exactly(mesh: Mesh, shift: tuple[float, float]) -> None:
    """Over many triangles too, and beyond the edge as far as BEYOND triangles' heights, straight on."""
    flat = mesh.flat + shift
    there, found = carried(mesh, tilted(mesh.flat), flat)
    assert there[found] == pytest.approx(tilted(flat)[found], abs=1e-12)
    assert there[~found] == pytest.approx(tilted(mesh.flat)[~found], abs=1e-12)
    if np.hypot(*shift) < BEYOND * EDGE / 4:
        assert found.all()
    inside = np.ones(len(flat), dtype=bool)
    inside[np.unique(np.concatenate(list(mesh.edges.values())))] = False
    assert found[inside].mean() > 0.9


def test_a_rolled_cloth_is_left_by_no_more_than_the_sag_of_its_chords(mesh: Mesh) -> None:
    """An arc of chord c on radius r sags c²/8r from it; a place 5 mm off lies within that of the cylinder."""
    flat = mesh.flat + (0.004, 0.003)
    there, found = carried(mesh, rolled(mesh.flat), flat)
    inside = np.ones(len(flat), dtype=bool)
    inside[np.unique(np.concatenate(list(mesh.edges.values())))] = False
    chord = np.linalg.norm(np.diff(mesh.flat[mesh.triangles[:, [0, 1, 2, 0]]], axis=1), axis=2).max()
    off = np.linalg.norm(there - rolled(flat), axis=1)[inside & found]
    assert 0.0 < off.max() < chord**2 / (8 * RADIUS)


def test_a_triangles_sides_lead_to_each_other_and_back(mesh: Mesh) -> None:
    across = partners(mesh.triangles).reshape(-1, 3) // 3
    t, k = np.nonzero(across >= 0)
    assert all(t[i] in across[across[t[i], k[i]]] for i in range(len(t)))
    shared = [len(set(mesh.triangles[a]) & set(mesh.triangles[across[a, b]])) for a, b in zip(t, k, strict=True)]
    assert set(shared) == {2}
    outline = sum(len(index) - 1 for index in mesh.edges.values())
    assert (across < 0).sum() == outline
    corner = mesh.flat[mesh.triangles]
    assert shares_in(corner, corner.mean(axis=1)) == pytest.approx(np.full((len(corner), 3), 1 / 3))


def test_a_collar_laid_out_elsewhere_keeps_its_shape() -> None:
    draft = draft_cloak(dataclasses.replace(STYLE, collar=CollarStyle(0.045, 0.035)), standing_body())
    mesh = triangulate(draft, edge_length=EDGE)
    there, found = carried(mesh, tilted(mesh.flat), mesh.flat + 0.004)
    collar = np.ones(len(mesh.flat), dtype=bool)
    collar[found] = False
    assert 0 < collar.sum() < 0.2 * len(collar)
    assert np.array_equal(there[collar], tilted(mesh.flat)[collar])


def test_a_cloth_cut_otherwise_starts_unstretched_and_its_friction_holds_where_it_held(
    draft, mesh, deeper, melton
) -> None:
    """Rolled up and cut 5 mm deeper: a thirtieth at most of the stretch that the old shape drawn over has."""
    changed, after = deeper
    sheet = sew(after, melton, grain=changed.grain)
    points = np.zeros((len(sheet.mass), 3))
    points[sheet.point_of_vertex] = rolled(mesh.flat)
    worn = points[sheet.point_of_vertex]  # seam partners together
    grip = Grip(
        np.concatenate([points, points[sheet.edges].mean(axis=1)]),
        np.ones(len(points) + len(sheet.edges), dtype=bool),
        NO_PAIRS,
        np.ones(len(points)),
    )
    start, held = moved_on(mesh, worn, after, sheet, grip)
    assert held.anchor == pytest.approx(np.concatenate([start, start[sheet.edges].mean(axis=1)]), abs=1e-12)
    darts = np.unique(np.concatenate([after.edges[seam] for one in changed.seams for seam in (one.first, one.second)]))
    beside = np.isin(sheet.triangles, sheet.point_of_vertex[darts]).any(axis=1)  # a rolled plane closes no dart

    def stretch(at: np.ndarray) -> float:
        sides = np.stack(
            [at[sheet.triangles[:, (k + 2) % 3]] - at[sheet.triangles[:, (k + 1) % 3]] for k in range(3)], axis=1
        )
        return float(np.abs(np.sum(sides**2, axis=2) / sheet.rest_squared - 1.0)[~beside].max())

    assert stretch(start) < stretch(points) / 30
    assert cloth_forces(sheet, start)[1] < cloth_forces(sheet, points)[1]
