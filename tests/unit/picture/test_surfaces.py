"""What is drawn of a fitting: finer, thick, sewn shut, outside the mannequin, and where it was settled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from drape.cloth.self_contact import crossing_count, weave
from drape.picture import surfaces
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]


def roof() -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Two squares folded like a roof, sewn along the ridge: vertices 1, 2 with 4, 7."""
    points = np.array(
        [[-1, 0, -1], [0, 0, 0], [0, 1, 0], [-1, 1, -1], [0, 0, 0], [1, 0, -1], [1, 1, -1], [0, 1, 0]], float
    )
    triangles = np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]])
    return points, triangles, {"front closure": np.array([1, 2]), "back closure": np.array([4, 7])}


def test_both_sides_of_a_seam_share_their_normal() -> None:
    """On the ridge of a roof it points straight up."""
    points, triangles, edges = roof()
    apart = surfaces.vertex_normals(points, triangles)
    sewn = surfaces.vertex_normals(points, triangles, surfaces.welded(points, edges))
    assert apart[1] == pytest.approx(np.array([-1, 0, 1]) / np.sqrt(2))
    assert sewn[1] == pytest.approx(sewn[4])
    assert (sewn[1] + sewn[2])[:2] == pytest.approx([0, 0])


def test_only_named_edges_are_welded() -> None:
    points, _, edges = roof()
    assert len(np.unique(surfaces.welded(points, edges))) == 6
    assert len(np.unique(surfaces.welded(points, {"hem": np.array([0, 3])}))) == 8


def test_a_halved_seam_stays_shut_and_keeps_its_thickness(cone: Cone) -> None:
    points, triangles, edges = roof()
    fitting = cone(worn=0.1 * points + (0, 0, 1.0), flat=points[:, :2], triangles=triangles, edges=edges)
    drawn = surfaces.drawn_cloth(fitting, edge=0.04)
    assert len(drawn.sides) == 2
    front, back = drawn.edges["front closure"], drawn.edges["back closure"]
    assert len(front) == 5
    np.testing.assert_array_equal(drawn.points[front], drawn.points[back])
    np.testing.assert_array_equal(drawn.weld[front], drawn.weld[back])
    outer, inner = surfaces.cloth_surfaces(drawn, 0.004, np.zeros(3), np.zeros(3))
    np.testing.assert_array_equal(outer.points[front], outer.points[back])
    assert np.linalg.norm(outer.points - inner.points, axis=1) == pytest.approx(0.004)
    assert [len(run) for run in drawn.seams] == [5]


def test_settled_points_stay_and_new_ones_lie_on_the_circle(cone: Cone) -> None:
    """A hoop of 24 sides: flat middles lie R (1 - cos(pi / 24)) inside; drawn ones within a tenth of that."""
    radius = 0.3
    turn = np.linspace(0, 2 * np.pi, 25)
    worn = np.array([(-radius * np.sin(a), radius * np.cos(a), 1 - 0.04 * k) for a in turn for k in range(6)])
    index = np.arange(len(worn)).reshape(25, 6)
    worn[index[-1]] = worn[index[0]]  # sewn: the very same place
    a, b, c, d = (k.ravel() for k in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
    triangles = np.vstack([np.column_stack([a, c, b]), np.column_stack([a, d, c])])
    edges = {
        "hem": index[:, -1],
        "front neck": index[:13, 0],
        "back neck": index[12:, 0],
        "front closure": index[0],
        "back closure": index[-1],
    }
    fitting = cone(worn=worn, flat=worn[:, :2], triangles=triangles, edges=edges)
    drawn = surfaces.drawn_cloth(fitting, edge=0.04)
    assert drawn.lift == 0.0
    np.testing.assert_array_equal(drawn.points[: len(worn)], worn)
    off = np.abs(np.linalg.norm(drawn.points[:, :2], axis=1) - radius)
    assert off.max() < radius * (1 - np.cos(np.pi / 24)) / 10
    values = drawn.carried(worn[:, 2])
    assert values == pytest.approx(drawn.points[:, 2], abs=1e-9)


def test_arcs_of_two_layers_do_not_cross(cone: Cone) -> None:
    """A flat piece 3 mm off the second of eight facets, whose arc would rise by 7 mm: that one is drawn flatter."""
    radius, step = 0.2, np.pi / 6
    turn = step * (np.arange(9) - 1.5)
    hoop = np.array([(radius * np.sin(a), y, 1 + radius * np.cos(a)) for a in turn for y in (0.0, 0.1)])
    over = 1 + radius * np.cos(step / 2) + 0.003
    piece = np.array([(x, y, over) for x in (-0.05, 0.05) for y in (0.03, 0.07)])
    strip = np.array([(2 * k + a, 2 * k + b, 2 * k + c) for k in range(8) for a, b, c in ((0, 2, 1), (1, 2, 3))])
    triangles = np.vstack([strip, [(18, 20, 19), (19, 20, 21)]])
    worn = np.vstack([hoop, piece]) + [1.0, 0.0, 0.0]  # beside the mannequin
    fitting = cone(worn=worn, flat=worn[:, :2], triangles=triangles, edges={"hem": np.arange(2)})
    drawn = surfaces.drawn_cloth(fitting, edge=0.02)
    assert crossing_count(weave(drawn.triangles), drawn.points) == 0
    x, z = drawn.points[:, 0] - 1, drawn.points[:, 2] - 1
    off, turned = np.hypot(x, z), np.arctan2(x, z)
    rise = [off[np.abs(turned - step * k) < 0.05].max() for k in (2, 4)]  # in the middles of two further facets
    assert rise == pytest.approx([radius] * 2, abs=0.1 * radius * (1 - np.cos(step / 2)))


def test_cloth_inside_the_mannequin_is_lifted_out_and_by_how_much_is_kept(cone: Cone) -> None:
    """Pushed 1 mm into a cylinder of 24 sides: drawn at least 0.6 of its thickness off the tangent planes."""
    fitting = cone()
    ring = np.linalg.norm(fitting.worn[:, :2], axis=1)
    inside = fitting.worn * np.column_stack([0.069 / ring, 0.069 / ring, np.ones(len(ring))])
    drawn = surfaces.drawn_cloth(replace(fitting, worn=inside))
    assert 0.0025 < drawn.lift < 0.006
    assert np.linalg.norm(drawn.points[:, :2], axis=1).min() > 0.07
    assert surfaces.drawn_cloth(fitting).lift == 0.0


def test_pieces_share_no_vertex() -> None:
    _, triangles, _ = roof()
    first, second, third, fourth = surfaces.pieces_of(triangles, {})
    assert first == second != third == fourth


def test_a_piecing_seam_parts_triangles_that_share_its_vertices() -> None:
    _, triangles, _ = roof()
    assert len(set(surfaces.pieces_of(triangles, {"seam 1-2": np.array([0, 2])}).tolist())) == 3


def test_the_cut_edge_is_as_wide_as_the_cloth_is_thick(cone: Cone) -> None:
    fitting = cone()
    rim = surfaces.cloth_surfaces(surfaces.drawn_cloth(fitting), 0.003, np.zeros(3), np.zeros(3))[2]
    corners = rim.points[rim.triangles]
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
    length = sum(np.linalg.norm(np.diff(fitting.worn[fitting.edges[n]], axis=0), axis=1).sum() for n in fitting.edges)
    assert area == pytest.approx(0.003 * length, rel=0.01)


def test_a_level_curve_of_a_cylinder_is_its_ring(cone: Cone) -> None:
    (ring,) = surfaces.level_curves(cone(), 0.5)
    assert ring[:, 2] == pytest.approx(0.5)
    assert np.linalg.norm(ring[:, :2], axis=1).max() == pytest.approx(0.07, abs=1e-9)
