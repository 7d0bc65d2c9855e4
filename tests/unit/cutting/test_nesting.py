"""packing: shapes keep apart and inside, exact packings are found, the same shapes give the same lay."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import rotate, scale, translate

from drape.cutting import nesting
from drape.cutting.nesting import Disc, Place, Shape, pack

TRIANGLE = Polygon([(0, 0), (2, 0), (0, 1)])


def laid(shapes: Sequence[Shape], places: Sequence[Place]) -> list[Polygon]:
    return [
        translate(rotate(shape.outline, place.turn, origin=(0, 0), use_radians=True), place.x, place.y)
        for shape, place in zip(shapes, places, strict=True)
    ]


def length(shapes: Sequence[Shape], places: Sequence[Place]) -> float:
    return max(one.bounds[2] for one in laid(shapes, places))


def overlap(outlines: Sequence[Polygon]) -> float:
    return max((a.intersection(b).area for i, a in enumerate(outlines) for b in outlines[:i]), default=0.0)


def test_boxes_that_fill_the_strip_exactly_lie_end_to_end() -> None:
    shapes = [Shape(box(0, 0, 2, 1)), Shape(box(0, 0, 3, 1)), Shape(box(0, 0, 1, 1))]
    assert length(shapes, pack(shapes, 1.0, tries=5)) == pytest.approx(6.0, abs=1e-6)


def test_four_boxes_fill_a_rectangle() -> None:
    """3 x 1, 3 x 1, 1 x 2, 2 x 2 tile 6 x 2."""
    shapes = [Shape(box(0, 0, *size)) for size in ((3, 1), (3, 1), (1, 2), (2, 2))]
    places = pack(shapes, 2.0, tries=60)
    assert length(shapes, places) == pytest.approx(6.0, abs=5e-3)
    assert overlap(laid(shapes, places)) < 1e-6


def test_two_triangles_turned_end_for_end_make_a_rectangle_and_with_a_nap_do_not() -> None:
    free = [Shape(TRIANGLE, (0.0, math.pi))] * 2
    assert length(free, pack(free, 1.0, tries=60)) == pytest.approx(2.0, abs=5e-3)
    napped = [Shape(TRIANGLE)] * 2
    assert length(napped, pack(napped, 1.0, tries=60)) > 2.5


def test_what_is_too_wide_has_no_place() -> None:
    assert pack([Shape(box(0, 0, 1, 1.1))], 1.0) is None
    assert pack([Shape(box(0, 0, 1, 1.0))], 1.0) is not None


def _star(seed: int, count: int) -> Polygon:
    """A crooked outline about its origin, most of its corners reflex or sharp."""
    random = np.random.default_rng(seed)
    angles = np.sort(random.uniform(0.0, 2.0 * math.pi, count))
    return Polygon(np.c_[np.cos(angles), np.sin(angles)] * random.uniform(0.1, 1.0, (count, 1)))


@pytest.mark.parametrize("seed", range(4))
def test_where_two_crooked_shapes_touch_is_all_that_one_sweeps_along_the_other(seed: int) -> None:
    """The definition: the moving shape, turned through its origin, carried to every place of the still one."""
    still, moving = _star(seed, 14), _star(100 + seed, 11)
    a, b = (shapely.get_coordinates(one) for one in (still, moving))
    swept = [Polygon(a[:-1][list(three)]) for three in itertools.combinations(range(len(a) - 1), 3)]
    within = [one for one in swept if one.area > 1e-9 and still.buffer(1e-9).covers(one)]
    assert shapely.union_all(within).area == pytest.approx(still.area), "triangles between corners cover the shape"
    every = [
        shapely.multipoints((shapely.get_coordinates(one)[:-1][:, None] - side).reshape(-1, 2)).convex_hull
        for one in within
        for side in np.stack([b[:-1], b[1:]], axis=1)
    ]
    whole = shapely.union_all(every)
    filled = shapely.union_all([Polygon(part.exterior) for part in getattr(whole, "geoms", [whole])])
    found = nesting._minkowski(still, moving)
    assert found.symmetric_difference(filled).area < 1e-5 * filled.area


def test_blocked_parts_are_kept_clear() -> None:
    flaw = Point(1.0, 0.5).buffer(0.1, quad_segs=32)
    shapes = [Shape(box(0, 0, 2, 1)), Shape(box(0, 0, 0.8, 1))]
    places = pack(shapes, 1.0, blocked=[Disc(1.0, 0.5, 0.1)], tries=30)
    outlines = laid(shapes, places)
    assert max(one.intersection(flaw).area for one in outlines) < 1e-6
    assert length(shapes, places) == pytest.approx(1.1 + 2.0, abs=5e-3)  # the small one fits before it


def test_a_shape_on_the_fold_lies_at_the_foot() -> None:
    shapes = [Shape(box(0, 0, 1, 0.5), on_fold=True), Shape(box(0, 0, 2, 0.6), on_fold=True), Shape(box(0, 0, 1, 0.3))]
    places = pack(shapes, 1.0, tries=60)
    assert [one.bounds[1] for one in laid(shapes, places)[:2]] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert length(shapes, places) == pytest.approx(3.0, abs=5e-3)


def test_the_same_shapes_give_the_same_lay_and_more_tries_none_longer() -> None:
    shapes = [Shape(Polygon([(0, 0), (1 + i / 3, 0), (0.4, 0.5 + i / 9)]), (0.0, math.pi)) for i in range(5)]
    assert pack(shapes, 1.0, tries=40) == pack(shapes, 1.0, tries=40)
    assert length(shapes, pack(shapes, 1.0, tries=200)) <= length(shapes, pack(shapes, 1.0, tries=1)) + 1e-9


@pytest.mark.parametrize("coarse", [0.001, 0.004])
@pytest.mark.parametrize("low", [0.4, 0.7, 0.9])
def test_outlines_of_fewer_points_hold_the_whole_shape_and_are_no_wider(low: float, coarse: float) -> None:
    """Halves of a circle's segment, with a sharp tip each: at most 60 points in place of a thousand."""
    along = np.linspace(0.0, math.sqrt(1 - low**2), 1000)
    half = Polygon([(0.0, low), *zip(along, np.sqrt(1 - along**2), strict=True)])
    for outline in (half, scale(half, -1.0, 1.0, origin=(0, 0)), rotate(half, 180, origin=(0, 0))):
        fewer = nesting._coarse(outline, coarse)
        assert len(fewer.exterior.coords) <= 60
        assert fewer.buffer(2e-6).covers(outline)
        assert fewer.bounds == pytest.approx(outline.bounds, abs=1e-7)
        assert fewer.hausdorff_distance(outline) < 1.5 * coarse


corner = st.tuples(st.floats(0, 1), st.floats(0, 1))


@settings(max_examples=10, deadline=None)
@given(st.lists(st.lists(corner, min_size=3, max_size=6), min_size=2, max_size=4))
@example([[(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 7e-263)]])  # once divided by nought
def test_any_shapes_keep_apart_and_inside(corners: list[list[tuple[float, float]]]) -> None:
    hulls = [Polygon(points).convex_hull for points in corners]
    shapes = [Shape(hull, (0.0, math.pi)) for hull in hulls if isinstance(hull, Polygon) and hull.area > 1e-3]
    if not shapes:
        return
    places = pack(shapes, 1.0, tries=8)
    outlines = laid(shapes, places)
    assert overlap(outlines) < 1e-6
    assert min(one.bounds[0] for one in outlines) > -1e-6
    assert min(one.bounds[1] for one in outlines) > -1e-6
    assert max(one.bounds[3] for one in outlines) < 1.0 + 1e-6
