"""Piecing lines of a drawing as cuts: levels, seams across, and the pieces that a scene with them is cut into."""

from __future__ import annotations

import numpy as np
import pytest
from drawings import FIRST, HEM, LAST, NECK, lines_of

from drape.cutting.lay import Bolt, thrifty_pieces
from drape.cutting.piecing import Allowances, Cuts
from drape.errors import SceneError
from drape.fitting.scene import load_scene
from drape.tracing.joined import joined
from drape.tracing.named import named
from drape.tracing.old_cuts import old_cuts
from drape.tracing.sector import sector

SCENE = """title = "Old lay"
[figure]
body = "ferry-warden"
[cloth]
cloth = "heavy melton"
[draft]
neck = "round"
length_cm = 100.0
"""


def cuts_of(*seams, names=()):
    lines = lines_of(HEM, LAST, NECK, FIRST, *map(np.array, seams), names=["a", "b", "c", "d", *names])
    return old_cuts(sector(named(joined(lines, "x"), {}, "x")))


def test_long_seams_are_levels_and_short_ones_run_across_a_strip():
    found = cuts_of([[-0.9, 0.5], [0.9, 0.502]], [[0.3, 0.5], [0.3, 0.98]], [[-0.75, 0.7], [0.75, 0.7]])
    assert found.grain == 0.0 and found.left_out == ()
    assert found.cuts.levels == pytest.approx((0.501, 0.7), abs=2e-3)
    assert [strip for strip, _ in found.cuts.ends] == [2]  # the middle of the short one lies above both
    assert found.cuts.ends[0][1] == pytest.approx((0.3,), abs=1e-3)
    assert found.width == pytest.approx(0.52, abs=0.0051)  # the lowest strip, 0.501, and a seam of 1.5 cm


def test_a_slanting_or_bent_line_is_told_and_left_out():
    bent = [[-0.9, 0.5], [0.0, 0.56], [0.9, 0.5]]
    found = cuts_of([[-0.95, 0.4], [0.95, 0.4]], [[-0.5, 0.9], [-0.1, 0.4]], bent, names=("s1", "s2", "s3"))
    assert found.cuts.levels == pytest.approx((0.4,), abs=1e-3)
    assert ["slants" in found.left_out[k] or "bends" in found.left_out[k] for k in (0, 1)] == [True, True]


def test_without_piecing_lines_there_is_none():
    assert cuts_of() is None


def test_a_scene_is_cut_where_it_says(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text(SCENE + "[piecing]\nwidth_cm = 70\nlevels_cm = [90, 50]\n[[cross_seam]]\nstrip = 2\nat_cm = [20]\n")
    bolt = load_scene(path).cutting.bolt
    assert bolt.cuts == Cuts((0.5, 0.9), ((1, (0.2,)),))


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("[[cross_seam]]\nstrip = 1\nat_cm = [20]\n", "cross_seam: got seams across without levels_cm"),
        ("[piecing]\nlevels_cm = [50]\n[[cross_seam]]\nstrip = 3\nat_cm = [20]\n", "strip: got 3, allowed 1 to 2"),
    ],
)
def test_seams_that_lie_nowhere_are_refused(tmp_path, written, said):
    path = tmp_path / "x.toml"
    path.write_text(SCENE + written)
    with pytest.raises(SceneError, match=said):
        load_scene(path)


def test_cloth_that_says_how_it_is_cut_is_cut_so():
    from stand_in import standing_body

    from drape.draft.cloak import draft_cloak
    from drape.draft.style import Style

    draft = draft_cloak(Style(neck="round", length=1.0), standing_body())
    pieces = thrifty_pieces(draft, Allowances(), Bolt(0.9, cuts=Cuts((0.5, 0.9), ((1, (0.2,)),))))
    assert len(pieces) == 4
