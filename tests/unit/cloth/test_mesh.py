"""mesh: every edge keeps its vertices, the triangles fill the outline and are well shaped, seams match, seeds
differ."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import stand_in
from families import most_are_long
from stand_in import standing_body

from drape.body.stance import Stance
from drape.cloth import mesh as meshing
from drape.cloth import mesher
from drape.cloth.mesh import Mesh, morphed, refined, seam_pairs, triangulate
from drape.cloth.mesher import quality_of
from drape.cutting.lay import Bolt, CuttingPlan, jointed
from drape.cutting.piecing import Allowances, Cuts, seam_levels
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, area_of, length_of, outline_of, run_of
from drape.draft.style import CollarStyle, Dags, Dart, Style
from drape.errors import MeshError
from drape.fitting.scene import load_scene
from drape.fitting.sit import draft_of, figure_cut_for

STYLES = {
    "round": Style("round", 1.1),
    "tailored": Style("tailored", 1.1, darts=(Dart(),)),
    "round with dart and cuts": Style("round", 1.1, darts=(Dart(),), shoulder_cut_intake=0.08),
    "fastened past the cut": Style("tailored", 1.1, darts=(Dart(),), fastened_length=0.157),
    "fastened short of the cut": Style("tailored", 1.1, fastened_length=0.146),
    "quarter": Style("tailored", 1.1, sweep=math.pi / 2, darts=(Dart(),)),
    "three quarters": Style("tailored", 1.0, sweep=1.5 * math.pi),
    "full": Style("round", 1.0, sweep=2 * math.pi),
}
SEEDS = most_are_long(range(3), 0)
TRIED = most_are_long(STYLES, "fastened past the cut")


@pytest.fixture(scope="module")
def drafts() -> dict[str, Draft]:
    """One draft of each style."""
    return {name: draft_cloak(style, standing_body()) for name, style in STYLES.items()}


@functools.cache
def meshed(name: str, seed: int, edge_length: float = 0.03) -> Mesh:
    """A style's draft in triangles, made once for all tests that only look at it."""
    return triangulate(draft_cloak(STYLES[name], standing_body()), edge_length=edge_length, seed=seed)


def sides_of(mesh: Mesh) -> tuple[np.ndarray, np.ndarray]:
    """All sides (low index, high index), once each, and how many triangles have each."""
    t = mesh.triangles
    both = np.sort(np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]), axis=1)
    return np.unique(both, axis=0, return_counts=True)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", TRIED)
def test_mesh_fills_the_outline_with_good_triangles(drafts: dict[str, Draft], name: str, seed: int) -> None:
    """Anticlockwise, one piece without holes (Euler), worst shape at least 0.5, area that of the outline's vertices."""
    mesh = meshed(name, seed)
    corners = mesh.flat[mesh.triangles]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    areas = 0.5 * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
    assert areas.min() > 0
    assert quality_of(mesh.flat, mesh.triangles).min() >= 0.5
    sides, times = sides_of(mesh)
    assert set(times) == {1, 2}
    assert len(mesh.flat) - len(sides) + len(mesh.triangles) == 1
    assert np.array_equal(np.unique(mesh.triangles), np.arange(len(mesh.flat)))
    loop = np.concatenate(
        [mesh.edges[edge.name][:: 1 if _onward(drafts[name], edge.name) else -1][:-1] for edge in drafts[name].edges]
    )
    assert areas.sum() == pytest.approx(area_of(mesh.flat[loop]), rel=1e-12)
    boundary = {tuple(side) for side in sides[times == 1]}
    assert boundary == {tuple(sorted(pair)) for pair in zip(loop.tolist(), np.roll(loop, -1).tolist(), strict=True)}


def _onward(draft: Draft, name: str) -> bool:
    """Whether an edge's workshop order is the loop's."""
    edge = next(edge for edge in draft.edges if edge.name == name)
    return bool(np.array_equal(run_of(draft, name)[0], edge.points[0]))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", TRIED)
def test_edges_keep_their_vertices_in_order(drafts: dict[str, Draft], name: str, seed: int) -> None:
    """Every vertex of an edge lies on it within 2e-6 m, in workshop order, from its first point to its last, corners
    kept."""
    draft, mesh = drafts[name], meshed(name, seed)
    assert set(mesh.edges) == {edge.name for edge in draft.edges}
    for edge, index in mesh.edges.items():
        run, points = run_of(draft, edge), mesh.flat[index]
        assert np.linalg.norm(points[0] - run[0]) < 1e-12
        assert np.linalg.norm(points[-1] - run[-1]) < 1e-12
        assert length_of(points) == pytest.approx(length_of(run), rel=1e-2)  # chords of 3 cm on a radius of 6.7: 0.8 %
        along = []
        start, step = run[:-1], np.diff(run, axis=0)
        passed = np.concatenate([[0.0], np.cumsum(np.linalg.norm(step, axis=1))])
        for point in points:
            share = np.clip(((point - start) * step).sum(1) / (step**2).sum(1), 0, 1)
            distance = np.linalg.norm(start + share[:, None] * step - point, axis=1)
            nearest = int(distance.argmin())
            assert distance[nearest] < 2e-6
            along.append(passed[nearest] + share[nearest] * np.linalg.norm(step[nearest]))
        assert np.all(np.diff(along) > 0)
        if len(run) == 3:
            assert np.linalg.norm(points - run[1], axis=1).min() < 1e-12


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", TRIED)
def test_seam_partners_match(drafts: dict[str, Draft], name: str, seed: int) -> None:
    """Both sides have as many vertices at the same distances from the neck; a dart's point is one vertex, not a
    pair."""
    draft, mesh = drafts[name], meshed(name, seed)
    wanted = 0
    for seam in draft.seams:
        first, second = mesh.edges[seam.first], mesh.edges[seam.second]
        assert len(first) == len(second)
        gaps = [np.linalg.norm(np.diff(mesh.flat[index], axis=0), axis=1) for index in (first, second)]
        assert gaps[0] == pytest.approx(gaps[1], abs=1e-9)
        wanted += len(first) - (1 if "dart" in seam.first else 0)
    assert mesh.seams.shape == (wanted, 2)
    assert np.all(mesh.seams[:, 0] != mesh.seams[:, 1])
    assert len(np.unique(mesh.seams)) == 2 * wanted
    if "dart point" in draft.marks:
        legs = mesh.edges["dart front leg"], mesh.edges["dart back leg"]
        assert legs[0][-1] == legs[1][-1]
        assert legs[0][-1] not in mesh.seams


def test_same_seed_same_bytes_other_seed_other_mesh(drafts: dict[str, Draft]) -> None:
    """Equal to the byte, also from another process; another seed moves inner vertices and keeps the quality."""
    draft = drafts["tailored"]
    once, again, other = (triangulate(draft, edge_length=0.06, seed=seed) for seed in (4, 4, 5))
    assert once.flat.tobytes() == again.flat.tobytes()
    assert once.triangles.tobytes() == again.triangles.tobytes()
    assert once.flat.shape != other.flat.shape or not np.allclose(once.flat, other.flat, atol=1e-3)
    assert abs(len(once.flat) - len(other.flat)) < 0.05 * len(once.flat)


@pytest.mark.long
def test_mesh_is_the_same_in_another_process_and_prints_nothing(tmp_path: Path) -> None:
    """The mesher keeps quiet on stdout and stderr, and does not depend on the process."""
    code = (
        "import sys, hashlib, pathlib; sys.path.insert(0, sys.argv[1]); from stand_in import standing_body;"
        "from drape.cloth.mesh import triangulate; from drape.draft.cloak import draft_cloak;"
        "from drape.draft.style import Dart, Style; style = Style('tailored', 1.1, darts=(Dart(),));"
        "m = triangulate(draft_cloak(style, standing_body()), edge_length=0.06, seed=4);"
        "pathlib.Path(sys.argv[2]).write_text(hashlib.sha256(m.flat.tobytes() + m.triangles.tobytes()).hexdigest())"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(Path(stand_in.__file__).parent), str(tmp_path / "digest")],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    mesh = meshed("tailored", 4, 0.06)
    found = (tmp_path / "digest").read_text(encoding="utf-8")
    assert found == hashlib.sha256(mesh.flat.tobytes() + mesh.triangles.tobytes()).hexdigest()
    assert run.stdout == ""
    assert run.stderr == ""


def test_edge_length_is_met(drafts: dict[str, Draft]) -> None:
    """The mean side is within 10 % of the edge length asked, and vertices number about area / (sqrt(3)/2 h^2)."""
    draft = drafts["tailored"]
    for edge_length in (0.06, 0.03):
        mesh = meshed("tailored", 0, edge_length)
        sides, _ = sides_of(mesh)
        lengths = np.linalg.norm(mesh.flat[sides[:, 0]] - mesh.flat[sides[:, 1]], axis=1)
        assert lengths.mean() == pytest.approx(edge_length, rel=0.1)
        count = draft.dimensions["area"] / (math.sqrt(3) / 2 * edge_length**2)
        assert len(mesh.flat) == pytest.approx(count, rel=0.2)


def test_meshed_area_is_that_of_its_chords_and_converges_as_the_square() -> None:
    """n chords on the hem's arc enclose R^2 n sin(S/n) / 2; less the neck hole that is the meshed area.

    Even chords on hem and neck lose the same, S h^2 / 12, so the hole is added back; the hem's error must fall as h^2.
    """
    outer = 0.4184 / math.pi + 1.1
    sizes, errors = [0.12, 0.06, 0.03], []
    for size in sizes:
        mesh = meshed("round", 0, size)
        corners = mesh.flat[mesh.triangles]
        first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        area = 0.5 * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]).sum()
        hem = len(mesh.edges["hem"]) - 1
        neck = np.concatenate([mesh.edges["front neck"], mesh.edges["back neck"][1:]])
        hole = area_of(np.vstack([mesh.flat[neck], np.zeros((1, 2))]))
        assert area == pytest.approx(outer**2 / 2 * hem * math.sin(math.pi / hem) - hole, rel=5e-6)
        errors.append(math.pi * outer**2 / 2 - hole - area)
    slope = np.polyfit(np.log(sizes), np.log(errors), 1)[0]
    assert slope == pytest.approx(2.0, abs=0.1)
    assert errors[-1] == pytest.approx(math.pi * 0.03**2 / 12, rel=0.1)


def test_quality_of_known_triangles() -> None:
    """2 inradius / circumradius: equilateral 1; right isosceles 2 (sqrt 2 - 1); flat 0."""
    flat = np.array([[0.0, 0.0], [1.0, 0.0], [0.5, math.sqrt(3) / 2], [0.0, 1.0], [2.0, 0.0]])
    found = quality_of(flat, np.array([[0, 1, 2], [0, 1, 3], [0, 1, 4]]))
    assert found == pytest.approx([1.0, 2 * (math.sqrt(2) - 1), 0.0], abs=1e-12)


@pytest.mark.parametrize(
    ("edge_length", "wanted"),
    [(0.0005, "got 0.05, allowed 0.2 to 20"), (0.5, "got 50, allowed"), (math.nan, "got nan")],
)
def test_edge_lengths_out_of_range_are_refused(drafts: dict[str, Draft], edge_length: float, wanted: str) -> None:
    """One line with the value and the range."""
    with pytest.raises(MeshError, match=wanted):
        triangulate(drafts["round"], edge_length=edge_length)


def test_too_many_vertices_are_refused(drafts: dict[str, Draft]) -> None:
    """0.2 cm on 2.3 m2 would be about 670,000 vertices."""
    with pytest.raises(MeshError, match=r"which makes about \d{6} vertices, allowed 400000\. Try 0\.\d+"):
        triangulate(drafts["round"], edge_length=0.002)


def test_a_mesher_that_moves_our_vertices_is_refused(drafts: dict[str, Draft], monkeypatch: pytest.MonkeyPatch) -> None:
    """Negative control: a moved or added outline vertex, or a triangle left out, is found."""
    honest = mesher._run_netgen

    def moved(outline: np.ndarray, edge_length: float, grading: float) -> tuple[np.ndarray, np.ndarray]:
        points, triangles = honest(outline, edge_length, grading)
        return points + np.eye(len(points), 2) * 1e-4, triangles

    def lacking(outline: np.ndarray, edge_length: float, grading: float) -> tuple[np.ndarray, np.ndarray]:
        points, triangles = honest(outline, edge_length, grading)
        return points, triangles[1:]

    def turned(outline: np.ndarray, edge_length: float, grading: float) -> tuple[np.ndarray, np.ndarray]:
        points, triangles = honest(outline, edge_length, grading)
        return points, np.vstack([triangles[:1, ::-1], triangles[1:]])

    for broken, wanted in ((moved, "moved the outline"), (lacking, "the triangles fill"), (turned, "turned over")):
        monkeypatch.setattr(mesher, "_run_netgen", broken)
        with pytest.raises(MeshError, match=wanted):
            triangulate(drafts["round"], edge_length=0.06)


@pytest.mark.parametrize("name", TRIED)
def test_outline_area_is_the_drafts(drafts: dict[str, Draft], name: str) -> None:
    """The mesh's outline, with chords of 3 cm, keeps the draft's area within 0.1 %."""
    mesh = meshed(name, 0)
    corners = mesh.flat[mesh.triangles]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    total = 0.5 * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]).sum()
    assert total == pytest.approx(area_of(outline_of(drafts[name])), rel=1e-3)


@pytest.mark.parametrize("name", TRIED)
def test_a_refined_mesh_keeps_its_vertices_and_halves_every_side(drafts: dict[str, Draft], name: str) -> None:
    draft = drafts[name]
    mesh = meshed(name, 1, 0.06)
    fine, sides = refined(draft, mesh)
    count = len(mesh.flat)
    assert np.array_equal(fine.flat[:count], mesh.flat)
    assert len(fine.triangles) == 4 * len(mesh.triangles) and len(fine.flat) == count + len(sides)
    moved = np.linalg.norm(fine.flat[count:] - mesh.flat[sides].mean(axis=1), axis=1)
    outline = np.unique(np.concatenate(list(fine.edges.values())))
    assert moved[np.setdiff1d(np.arange(count, len(fine.flat)), outline) - count].max() == 0.0
    assert quality_of(fine.flat, fine.triangles).min() >= meshing.WORST_QUALITY
    assert np.array_equal(np.unique(fine.triangles), np.arange(len(fine.flat)))


@pytest.mark.parametrize("name", TRIED)
def test_a_refined_edge_lies_on_the_draft_and_its_seams_match(drafts: dict[str, Draft], name: str) -> None:
    draft = drafts[name]
    mesh = meshed(name, 1, 0.06)
    fine, sides = refined(draft, mesh)
    for edge, index in fine.edges.items():
        run = run_of(draft, edge)
        assert np.array_equal(index[::2], mesh.edges[edge])
        assert np.array_equal(
            np.sort(sides[index[1::2] - len(mesh.flat)]), np.sort(np.column_stack([index[:-2:2], index[2::2]]))
        )
        steps = np.linalg.norm(np.diff(run, axis=0), axis=1)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        for vertex in index:
            share = np.clip(np.sum((fine.flat[vertex] - run[:-1]) * np.diff(run, axis=0), axis=1) / steps**2, 0, 1)
            near = run[:-1] + share[:, None] * np.diff(run, axis=0)
            assert np.linalg.norm(fine.flat[vertex] - near, axis=1).min() < 1e-9
        assert length_of(mesh.flat[index[::2]]) <= length_of(fine.flat[index]) * (1 + 1e-12)
        assert length_of(fine.flat[index]) <= along[-1] * (1 + 1e-12)
    for seam in draft.seams:
        first, second = fine.flat[fine.edges[seam.first]], fine.flat[fine.edges[seam.second]]
        lengths = [np.linalg.norm(np.diff(run, axis=0), axis=1) for run in (first, second)]
        assert lengths[0] == pytest.approx(lengths[1], rel=2e-3)
    assert len(fine.seams) >= len(mesh.seams)


@pytest.mark.parametrize("name", TRIED)
def test_a_mesh_drawn_over_to_its_own_draft_stays(drafts: dict[str, Draft], name: str) -> None:
    mesh = meshed(name, 1, 0.06)
    assert np.abs(morphed(mesh, drafts[name], drafts[name]).flat - mesh.flat).max() < 1e-12


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mesh_drawn_over_fills_the_new_outline_and_keeps_its_seams(drafts: dict[str, Draft], seed: int) -> None:
    """A longer cloak with a deeper neck: areas agree to what straight sides leave out of curves, partners lie alike."""
    before = drafts["tailored"]
    style = dataclasses.replace(
        STYLES["tailored"], length=1.13, front_neck_depth=before.dimensions["front_neck_depth"] + 0.01
    )
    draft = draft_cloak(style, standing_body())
    old = meshed("tailored", seed)
    mesh = morphed(old, before, draft)
    assert np.array_equal(mesh.triangles, old.triangles) and quality_of(mesh.flat, mesh.triangles).min() > 0.5
    whole = triangulate(draft, edge_length=0.03, seed=seed)
    area = [
        area_of(m.flat[np.concatenate([onward(draft, m, e.name)[:-1] for e in draft.edges])]) for m in (mesh, whole)
    ]
    assert area[0] == pytest.approx(area[1], rel=1e-4)
    assert np.array_equal(mesh.seams, seam_pairs(draft, mesh.edges))
    for seam in draft.seams:
        first, second = mesh.flat[mesh.edges[seam.first]], mesh.flat[mesh.edges[seam.second]]
        sides = [np.linalg.norm(np.diff(points, axis=0), axis=1) for points in (first, second)]
        assert sides[0] == pytest.approx(sides[1], abs=1e-4)
    moved = np.linalg.norm(mesh.flat - old.flat, axis=1)
    outline = np.unique(np.concatenate(list(mesh.edges.values())))
    assert moved.max() == moved[outline].max()


def onward(draft: Draft, mesh: Mesh, name: str) -> np.ndarray:
    """An edge's vertices as the outline runs."""
    index = mesh.edges[name]
    start = next(edge.points[0] for edge in draft.edges if edge.name == name)
    return (
        index
        if np.linalg.norm(mesh.flat[index[0]] - start) < np.linalg.norm(mesh.flat[index[-1]] - start)
        else index[::-1]
    )


def test_a_mesh_is_not_drawn_over_to_other_edges(drafts: dict[str, Draft]) -> None:
    mesh = triangulate(drafts["round"], edge_length=0.05)
    with pytest.raises(MeshError, match="other edges.*afresh"):
        morphed(mesh, drafts["round"], drafts["tailored"])


# --- piecing seams ----------------------------------------------------------------------------


PIECED = (
    ("round", 0.7, 0.0, ((1, (-0.4, 0.5)),)), ("tailored", 0.4, 0.0, ((2, (0.0,)),)), ("tailored", 0.7, 35.0, ()),
    ("tailored", 0.4, 90.0, ()), ("three quarters", 0.7, 0.0, ()), ("quarter", 0.5, 0.0, ()),
)  # fmt: skip


def pieced_draft(draft: Draft, width: float, grain: float, ends: tuple) -> Draft:
    """The draft with the seams of cloth of this width; `ends` where its lengths are cut again."""
    turn = math.radians(grain)
    levels = seam_levels(draft, width, Allowances(), turn)
    return jointed(draft, CuttingPlan(Bolt(width), grain=turn), Cuts(levels, ends))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(("name", "width", "grain", "ends"), most_are_long(PIECED, PIECED[2]))
def test_piecing_seams_keep_their_vertices(
    name: str, width: float, grain: float, ends: tuple, seed: int, drafts: dict[str, Draft]
) -> None:
    """Along every seam: vertices on the line, sides that are triangles' sides, twice as many when refined;
    the hem whole.
    """
    draft = pieced_draft(drafts[name], width, grain, ends)
    assert draft.piecing
    mesh = triangulate(draft, edge_length=0.05, seed=seed)
    for each in (mesh, refined(draft, mesh)[0]):
        sides, times = sides_of(each)
        every = {tuple(side): int(count) for side, count in zip(sides.tolist(), times, strict=True)}
        for seam in draft.piecing:
            index = each.edges[seam.name]
            start, end = seam.points[0], seam.points[-1]
            along = (end - start) / np.linalg.norm(end - start)
            off = each.flat[index] - start
            assert np.abs(off[:, 0] * along[1] - off[:, 1] * along[0]).max() < 1e-6
            assert (np.diff(off @ along) > 0.0).all()
            assert [every[tuple(sorted(pair))] for pair in zip(index[:-1], index[1:], strict=True)] == [2] * (
                len(index) - 1
            )
        assert len(mesh.edges["hem"]) > 10
    assert len(refined(draft, mesh)[0].edges[draft.piecing[0].name]) == 2 * len(mesh.edges[draft.piecing[0].name]) - 1


def test_piecing_seams_that_run_into_dags_end_on_the_plain_hem() -> None:
    """A seam over the notch between two dags is one seam all the way, since the dags are not in the triangles."""
    style = Style("round", 0.78, darts=(Dart(),), dags=(Dags("hem", "square", 0.15, 0.064),))
    draft = pieced_draft(draft_cloak(style, standing_body()), 0.64, 0.0, ())
    mesh = triangulate(draft, edge_length=0.06)
    hem = run_of(draft, "hem")
    assert [edge.name for edge in draft.piecing] == ["seam 1-2"]
    ends = mesh.flat[mesh.edges["seam 1-2"][[0, -1]]]
    assert np.linalg.norm(ends, axis=1) == pytest.approx([np.linalg.norm(hem[0])] * 2, abs=1e-3)


def test_a_pieced_mesh_is_drawn_over_with_its_seams_straight(drafts: dict[str, Draft]) -> None:
    """Another hem: the seams stay on their lines and end on it."""
    short = draft_cloak(dataclasses.replace(STYLES["round"], length=1.06), standing_body())
    before, after = (pieced_draft(one, 0.7, 0.0, ()) for one in (drafts["round"], short))
    lines = Cuts(seam_levels(drafts["round"], 0.7, Allowances(), 0.0))
    after = jointed(short, CuttingPlan(Bolt(0.7), grain=0.0), lines)
    moved = morphed(triangulate(before, edge_length=0.06), before, after)
    for seam in after.piecing:
        placed = moved.flat[moved.edges[seam.name]]
        assert np.ptp(placed[:, 1]) < 1e-6
        assert placed[[0, -1]] == pytest.approx(seam.points, abs=1e-6)


def test_drafts_pieced_otherwise_are_not_drawn_over(drafts: dict[str, Draft]) -> None:
    pieced = pieced_draft(drafts["round"], 0.7, 0.0, ())
    mesh = triangulate(pieced, edge_length=0.08)
    with pytest.raises(MeshError, match="other edges"):
        morphed(mesh, pieced, drafts["round"])


@pytest.mark.parametrize(("lines", "least"), [({}, "0.5"), ({"seam 1-2": [0, 1]}, "0.15")])
def test_a_bad_triangle_is_told_with_the_limit_that_holds_there(lines: dict[str, list[int]], least: str) -> None:
    """A sliver of shape 0.007: all of it lies beside the line, if there is one."""
    flat = np.array([[0.0, 0.0], [1.0, 0.0], [0.5, 0.03]])
    inside = {name: np.array(line) for name, line in lines.items()}
    with pytest.raises(MeshError, match=rf"shape is 0\.\d+, allowed at least {least}\."):
        meshing._check_triangles(flat, np.array([[0, 1, 2]]), [flat], inside)


def test_in_a_pieced_draft_the_triangle_furthest_below_its_own_limit_is_told() -> None:
    """Beside the seam 0.22 is let through; away from it 0.27 is not, and the limit there is 0.3."""
    flat = np.array([[0.0, 0.0], [1.0, 0.0], [0.5, 0.18], [2.0, 0.0], [3.0, 0.0], [2.5, 0.2]])
    parts = [flat[:3], flat[3:]]
    with pytest.raises(MeshError, match=r"shape is 0\.266, allowed at least 0\.3\."):
        meshing._check_triangles(flat, np.array([[0, 1, 2], [3, 4, 5]]), parts, {"seam 1-2": np.array([0, 1])})


def test_angles_inside_an_outline() -> None:
    """A right-angled triangle of 30 and 60 degrees; and a notch, which is seen from inside."""
    triangle = np.array([[0.0, 0.0], [math.sqrt(3.0), 0.0], [0.0, 1.0]])
    assert np.degrees(meshing.corner_angles(triangle)) == pytest.approx([90.0, 30.0, 60.0])
    notched = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [1.0, 1.0], [0.0, 2.0]])
    assert np.degrees(meshing.corner_angles(notched)) == pytest.approx([90.0, 90.0, 45.0, 270.0, 45.0])


ROUND_HEM = 0.46 * np.exp(1j * np.radians(np.linspace(0.0, 216.0, 9)))
DRAWN = {"length": None, "hem_along": tuple(ROUND_HEM.real), "hem_up": tuple(ROUND_HEM.imag)}  # so no edge is moved
MANTLES = {
    "a needle of 14 degrees between neck and closure": (
        "lamp-bearer-collar", {"style": DRAWN, "stance": Stance(stoop=-0.034, full_back=0.04, low_left=0.042)}, 0.06
    ),
    "a needle of 13 degrees": ("lamp-bearer-collar", {"style": DRAWN, "stance": Stance(low_right=0.042)}, 0.06),
    "nearly a full circle, with a collar": (
        "ferry-warden-tailored", {"style": {"sweep": math.radians(354), "collar": CollarStyle(0.04)}}, 0.05
    ),
}  # fmt: skip


@functools.cache
def mantle(name: str) -> tuple[Draft, float]:
    shipped, changes, edge_length = MANTLES[name]
    scene = load_scene(shipped)
    style = dataclasses.replace(scene.style, **changes.get("style", {}))
    scene = dataclasses.replace(scene, **{**changes, "style": style})
    return draft_of(scene, figure_cut_for(scene)), edge_length


@pytest.mark.parametrize("name", most_are_long(MANTLES, next(iter(MANTLES))))
def test_what_can_be_cut_can_be_meshed(name: str) -> None:
    draft, edge_length = mantle(name)
    assert len(triangulate(draft, edge_length=edge_length).triangles) > 250


def test_what_cannot_be_meshed_says_where_the_draft_is_sharpest(drafts: dict[str, Draft]) -> None:
    """The mesher's own word is part of the line, whatever it is."""

    def give_up(*_: object, **__: object) -> None:
        raise RuntimeError("meshing failed")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("netgen.geom2d.SplineGeometry.GenerateMesh", give_up)
        with pytest.raises(MeshError, match=r"mesher gives up: meshing failed\. Try another edge length\.$"):
            triangulate(drafts["round"], edge_length=0.08)
        with pytest.raises(MeshError, match=r"sharpest where left front neck meets left closure, 14°: make it wider"):
            triangulate(mantle(next(iter(MANTLES)))[0], edge_length=0.06)
