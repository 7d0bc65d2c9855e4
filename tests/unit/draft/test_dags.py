"""Dags against their areas and their fit, in the outline, the triangles, the pieces; and every refusal."""

from __future__ import annotations

import math

import numpy as np
import pytest
from families import most_are_long
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from stand_in import standing_body

from drape.cloth.mesh import quality_of, refined, triangulate
from drape.cutting.piecing import Allowances, pieced, seam_levels
from drape.draft.cloak import draft_cloak, with_meshed_dags
from drape.draft.cut_line import cut_line, edges_said
from drape.draft.dags import BOW_END, LEAF_RADIUS, dag_shape, dagged, fitted_count, fitted_width
from drape.draft.outline import Draft, area_of, length_of, loops_of, outline_of, run_of
from drape.draft.style import DAG_KINDS, CollarStyle, Dags, Style
from drape.errors import DraftError
from drape.reading.worn import hem_vertices

SHOWN = most_are_long(
    [(kind, edge) for kind in DAG_KINDS for edge in ("hem", "opening")], ("round", "hem"), ("leaf", "opening")
)


def kept_share(kind: str, count: int) -> float:
    """The share of a straight edge's strip, as deep as the dags, that they keep: areas of their plane figures."""
    if kind == "square":
        return count / (2 * count - 1)
    if kind == "pointed":
        return 0.5
    if kind == "round":  # a circle's segment from BOW_END up, over its box
        low = BOW_END
        segment = (math.pi - 2 * low - math.sin(2 * low)) / 2 - 0.0
        return (segment + 0.0) / (2 * math.cos(low) * (1 - math.sin(low)))
    r = LEAF_RADIUS  # two arcs of radius r about points r - 1 beyond the middle: half a pointed arch
    top = math.sqrt(2 * r - 1)
    half = r * r * math.acos((r - 1) / r) / 2 - (r - 1) * top / 2
    return half / top


@given(kind=st.sampled_from(DAG_KINDS), count=st.integers(1, 20), depth=st.floats(0.01, 0.2), length=st.floats(0.1, 4))
@settings(max_examples=30, deadline=None)
def test_dags_keep_the_area_of_their_figures_and_fill_the_edge(
    kind: str, count: int, depth: float, length: float
) -> None:
    edge = np.array([[0.0, 0.0], [length, 0.0]])
    cut = dagged(edge, np.tile([0.0, 1.0], (2, 1)), dag_shape(kind, count), depth)
    assert (cut[0, 0], cut[-1, 0]) == pytest.approx((0.0, length), abs=1e-12)
    assert cut[:, 1].min() == pytest.approx(0.0, abs=1e-12)
    assert cut[:, 1].max() == pytest.approx(depth if kind != "square" or count > 1 else 0.0, abs=1e-12)
    strip = np.vstack([cut, [[length, depth], [0.0, depth]]])
    assert abs(area_of(strip)) == pytest.approx(kept_share(kind, count) * length * depth, rel=2e-3)
    mirrored = cut[::-1] * [-1.0, 1.0] + [length, 0.0]
    assert mirrored == pytest.approx(cut, abs=1e-9)  # begins as it ends: with a whole dag


@settings(deadline=None, max_examples=50)
@given(kind=st.sampled_from(DAG_KINDS), width=st.floats(0.02, 0.3), length=st.floats(0.5, 5))
def test_the_count_fits_the_edge(kind: str, width: float, length: float) -> None:
    count = fitted_count(length, width, kind)
    own = fitted_width(length, count, kind)
    assert own * (count - (0.5 if kind == "square" else 0.0)) == pytest.approx(length)
    assert count == 1 or own / width == pytest.approx(1.0, abs=0.5 / (count - 0.5) + 1e-9)


@pytest.fixture(scope="module")
def draft_of():
    """`draft_of(dags, ..., key=value)`: a tailored draft with those dags."""

    def drafted(*dags: Dags, **asked: object) -> Draft:
        return draft_cloak(Style("tailored", **{"length": 0.9, "dags": dags, **asked}), standing_body())  # type: ignore[arg-type]

    return drafted


@pytest.mark.parametrize("kind", DAG_KINDS)
def test_a_dagged_draft_is_one_plain_outline_inside_the_undagged_one(draft_of, kind: str) -> None:
    collar = CollarStyle(0.06)
    draft = draft_of(
        Dags("hem", kind, 0.09, 0.06),
        Dags("opening", kind, 0.08, 0.04),
        Dags("collar", kind, 0.03, 0.02),
        collar=collar,
    )
    plain = [Polygon(np.concatenate([edge.points[:-1] for edge in loop])) for loop in loops_of(draft)]
    cut = [Polygon(np.concatenate([edge.points[:-1] for edge in loop])) for loop in loops_of(draft, all_dags=True)]
    for before, after in zip(plain, cut, strict=True):
        assert after.is_valid and after.area < before.area
        assert before.buffer(1e-5).covers(after)
    reach = np.linalg.norm(np.asarray(cut[0].exterior.coords), axis=1).max()
    assert reach == pytest.approx(draft.dimensions["hem_radius"], abs=1e-9)  # the tips lie on the hem
    assert cut_line(draft) == pytest.approx(np.concatenate([e.points[:-1] for e in loops_of(draft, all_dags=True)[0]]))
    assert np.array_equal(outline_of(draft), np.concatenate([e.points[:-1] for e in draft.edges]))
    assert [line.split(" edge")[0] for line in edges_said(draft)] == ["hem", "opening", "collar"]


@pytest.mark.parametrize(("kind", "edge"), SHOWN)
def test_dags_that_triangles_can_show_are_cut_into_them(draft_of, kind: str, edge: str) -> None:
    draft = draft_of(Dags(edge, kind, 0.08, 0.06))
    assert not any(dags.meshed for dags in with_meshed_dags(draft, 0.03).dags)
    draft = with_meshed_dags(draft, 0.015)
    assert all(dags.meshed for dags in draft.dags)
    mesh = triangulate(draft, edge_length=0.06)
    finer, _ = refined(draft, mesh)
    assert quality_of(finer.flat, finer.triangles).min() >= 0.5
    wanted = Polygon(np.concatenate([e.points[:-1] for e in loops_of(draft)[0]])).area
    a, b, c = (finer.flat[finer.triangles[:, k]] for k in range(3))
    area = 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]).sum()
    assert area == pytest.approx(wanted, rel=4e-3)  # chords of the dags' arcs


@pytest.mark.parametrize("kind", most_are_long(DAG_KINDS, DAG_KINDS[0]))
def test_a_dagged_hem_is_read_at_its_tips(draft_of, kind: str) -> None:
    """Fall is that of the hem as drafted: every tip has a vertex on it, and no vertex of a notch counts."""
    draft = with_meshed_dags(draft_of(Dags("hem", kind, 0.12, 0.08)), 0.015)
    mesh = triangulate(draft, edge_length=0.06)
    tips = hem_vertices(draft, mesh)
    away = np.linalg.norm(mesh.flat[tips], axis=1)
    assert away == pytest.approx(draft.dimensions["hem_radius"], abs=1e-4)
    assert draft.dags[0].count <= len(tips) < len(mesh.edges["hem"])
    whole = draft_of(Dags("hem", kind, 0.12, 0.08))  # not cut into the triangles: all of the hem
    plain = triangulate(whole, edge_length=0.06)
    assert np.array_equal(hem_vertices(whole, plain), plain.edges["hem"])


def test_a_trimmed_hem_keeps_its_count_of_dags() -> None:
    figure = standing_body()
    style = Style("tailored", length=0.9, dags=(Dags("hem", "round", 0.09, 0.05),))
    counts = [draft_cloak(style, figure, trim=np.full(49, trim)).dags[0].count for trim in (-0.2, 0.0, 0.2)]  # type: ignore[arg-type]
    assert len(set(counts)) == 1


def test_narrow_cloth_pieces_a_dagged_draft_whole(draft_of) -> None:
    draft = draft_of(Dags("hem", "square", 0.1, 0.05))
    pieces = pieced(draft, seam_levels(draft, 0.7, Allowances()), Allowances())
    wanted = Polygon(np.concatenate([e.points[:-1] for e in loops_of(draft, all_dags=True)[0]])).area
    total = sum(Polygon(np.concatenate([e.points[:-1] for e in piece.edges])).area for piece in pieces)
    assert len(pieces) > 1 and total == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(
    ("dags", "asked", "words"),
    [
        ((Dags("hem", "round", 0.2, 0.9),), {}, "allowed at most"),
        ((Dags("hem", "round", 0.6, 0.45),), {"length": 0.5}, "dags.depth_cm: got 45"),
        ((Dags("collar", "round", 0.03, 0.045),), {"collar": CollarStyle(0.05)}, "reach the collar's neck seam"),
        ((Dags("collar", "round", 0.03, 0.02),), {}, "without a collar"),
        ((Dags("hem", "wavy", 0.1, 0.05),), {}, "dags.kind: got 'wavy'"),
        ((Dags("neck", "round", 0.1, 0.05),), {}, "dags.edge: got 'neck'"),
        ((Dags("hem", "round", 0.001, 0.05),), {}, "dags.width_cm: got 0.1"),
        ((Dags("hem", "round", 0.1, 0.05), Dags("hem", "leaf", 0.1, 0.05)), {}, "dags 2.edge: got 'hem' twice"),
        ((Dags("hem", "round", 0.1, 0.05),), {"hem_allowance": 0.03}, "a dagged edge is not turned in"),
        ((Dags("opening", "round", 0.1, 0.05),), {"overlap": 0.04}, "a dagged edge is not turned in"),
        ((Dags("opening", "round", 0.9, 0.05),), {}, "half the opening edge"),
    ],
)
def test_dags_that_cannot_be_are_refused(
    draft_of, dags: tuple[Dags, ...], asked: dict[str, object], words: str
) -> None:
    with pytest.raises(DraftError) as caught:
        draft_of(*dags, **asked)  # type: ignore[arg-type]
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_dags_deeper_than_the_turn_of_the_curve_are_refused(draft_of) -> None:
    """On an arc of radius r a dag d deep is (r - d)/r as wide at its root: half, at most, is let go."""
    draft = draft_of()
    radius = draft.dimensions["hem_radius"]
    inner = max(float(np.linalg.norm(run_of(draft, name), axis=1).max()) for name in draft.neck)
    assert radius / 2 < radius - inner - 0.05  # there is room for them otherwise
    draft_of(Dags("hem", "square", 0.3, 0.49 * radius))
    with pytest.raises(DraftError, match="deeper than the turn of the curve"):
        draft_of(Dags("hem", "square", 0.3, 0.52 * radius))
    assert length_of(run_of(draft, "hem")) > 0
