"""A hem trimmed on the settled cloth: what hangs too low, by how much to shorten it, what is told of it;
by formulas.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from stand_in import standing_body

from drape.cloth.mesh import triangulate
from drape.draft.cloak import draft_cloak
from drape.draft.hem import FALL_SHARE
from drape.draft.outline import Draft, run_of
from drape.draft.style import Dart, Style
from drape.fitting.hem_trim import NODES, hem_error, hem_remarks, is_near_enough, trim_more, trim_reading


def hanging(style: Style, height: np.ndarray, draft: Draft) -> np.ndarray:
    """A settled hem of a circle round the body at the heights given, from the closure round [m], (k, 3)."""
    start = {"right shoulder": -0.5, "left shoulder": 0.5, "centre front": 0.0}[style.closure_place] * math.pi
    azimuth = start + np.linspace(0.0, 2 * math.pi, len(height))
    return np.column_stack([-0.5 * np.sin(azimuth), 0.5 * np.cos(azimuth) - 0.01, height])


def test_each_round_shortens_what_hangs_low_by_what_it_hangs_low() -> None:
    """A hem 2 cm below the knee in front and right behind: shortened by 2 cm / FALL_SHARE in front, nothing behind."""
    style = Style("tailored", length_to="knee", darts=(Dart(),))
    draft = draft_cloak(style, standing_body())
    mesh = triangulate(draft, edge_length=0.06)
    share = np.linspace(0.0, 1.0, len(mesh.edges["hem"]))
    front = np.abs(share - 0.25) < 0.125
    low, worst = hem_error(
        style, standing_body(), mesh.flat[mesh.edges["hem"]], hanging(style, np.where(front, 0.485, 0.505), draft)
    )  # type: ignore[arg-type]
    assert worst == pytest.approx(0.02, abs=1e-9)
    assert not is_near_enough(style, worst) and is_near_enough(style, 0.003)
    trim = trim_more(None, low)
    places = np.linspace(0.0, 1.0, NODES)
    assert np.interp([0.25, 0.75], places, trim) == pytest.approx([-0.02 / FALL_SHARE, 0.0], abs=1e-9)
    again = trim_more(trim, low)
    assert again == pytest.approx(2 * trim)
    reading = trim_reading(draft, trim)
    assert reading["at_deg"][0] == 0 and reading["trim_cm"][0] == pytest.approx(-2 / FALL_SHARE, abs=1e-6)
    assert reading["trim_cm"][6] == pytest.approx(0.0, abs=1e-6)


def test_a_level_hem_is_measured_against_centre_back() -> None:
    """Height falling evenly by 6 cm from the first edge to the last: worst 6 cm, no error behind, at three quarters of
    the way round; elsewhere as far off as the way from there times 6 cm."""
    style = Style("round", 1.0, level=True)
    draft = draft_cloak(style, standing_body())
    mesh = triangulate(draft, edge_length=0.06)
    share = np.linspace(0.0, 1.0, len(mesh.edges["hem"]))
    low, worst = hem_error(
        style, standing_body(), mesh.flat[mesh.edges["hem"]], hanging(style, 0.5 - 0.06 * share, draft)
    )  # type: ignore[arg-type]
    assert worst == pytest.approx(0.06, abs=1e-9)
    places = np.linspace(0.0, 1.0, NODES)
    assert low[1:-1] == pytest.approx(0.06 * (places[1:-1] - 0.75), abs=1.5e-3)


def test_the_hem_of_edges_moved_to_centre_front_is_trimmed_from_corner_to_corner() -> None:
    """Height falling evenly by 6 cm from corner to corner, the first one below the draft's straight edge."""
    darts = (Dart("left shoulder", intake=0.1), Dart("right shoulder", intake=0.05))
    style = Style("tailored", 1.0, level=True, closure_place="centre front", darts=darts)
    draft = draft_cloak(style, standing_body())
    flat = run_of(draft, "hem")[::3]
    share = np.linspace(0.0, 1.0, len(flat))
    assert flat[0, 1] < flat[1, 1] < 0.0  # below it, where an angle counted from 0 on would be near a whole turn
    low, _ = hem_error(style, standing_body(), flat, hanging(style, 0.5 - 0.06 * share, draft))  # type: ignore[arg-type]
    behind = (math.pi / 2 - math.atan2(flat[0, 1], flat[0, 0])) / math.pi  # of the way round, from corner to corner
    assert low[1:-1] == pytest.approx(0.06 * (np.linspace(0.0, 1.0, NODES)[1:-1] - behind), abs=1e-4)
    trim = np.linspace(0.0, 0.03, NODES)
    after = draft_cloak(style, standing_body(), trim=trim)
    for name, more in (("left opening", 0.0), ("right opening", 0.03)):  # cut where the trim says, on the same lines
        ends = [np.linalg.norm(run_of(one, name)[-1]) for one in (draft, after)]
        assert ends[1] - ends[0] == pytest.approx(more, abs=1e-12)
    assert np.ptp(run_of(after, "left opening")[:, 1]) < 1e-12
    assert trim_reading(after, trim)["trim_cm"][6] == pytest.approx(1.5, abs=0.1)


def test_what_is_left_too_far_off_is_told_with_its_size_and_what_is_near_is_not() -> None:
    """Remarks begin at 5 mm: a hem 8 mm uneven is told of, one 3 mm uneven is not,
    one never trimmed is nobody's fault.
    """
    level = Style("round", 1.0, level=True)
    draft = draft_cloak(level, standing_body())
    mesh = triangulate(draft, edge_length=0.06)
    flat, share = mesh.flat[mesh.edges["hem"]], np.linspace(0.0, 1.0, len(mesh.edges["hem"]))
    told = [
        hem_remarks(level, standing_body(), flat, hanging(level, 0.5 - off * share, draft)) for off in (0.008, 0.003)
    ]  # type: ignore[arg-type]
    assert told == [["hem: asked level, up to 0.8 cm off that when trimming ended. Trim the rest on the wearer."], []]
    assert hem_remarks(Style("round", 1.0), standing_body(), flat, hanging(level, 0.5 - 0.1 * share, draft)) == []  # type: ignore[arg-type]
