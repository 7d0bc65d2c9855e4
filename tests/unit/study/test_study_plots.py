"""What stands in the plots is what was read: dots, means, limits, marks by how a draft sits, bars by drafts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from studied import BODIES, DIMENSIONS, found

from drape.study.study_plots import plot_drafts, plot_matters, plot_reach

pytestmark = pytest.mark.long  # it draws


def test_each_reading_stands_against_each_thing_that_varies(tmp_path: Path) -> None:
    one = found(tmp_path, DIMENSIONS, lambda s: 3.0 - s["dart.intake_cm"] / 4)
    first, second = plot_matters(one.matters).axes
    dots = np.asarray(first.collections[0].get_offsets())
    assert sorted(map(tuple, dots.tolist())) == [(6.0, 1.5)] * 3 + [(9.0, 0.75)] * 3
    assert (first.get_title(), second.get_title()) == ("dart intake, cm", "neck width, cm")
    limit = next(line for line in first.lines if line.get_linestyle() == "--")
    assert set(limit.get_ydata()) == {1.5}
    assert first.texts[0].get_text().startswith("100 %") and "may be chance" in second.texts[0].get_text()


def test_cloths_stand_by_name(tmp_path: Path) -> None:
    text = '[vary]\n"cloth.cloth" = ["flannel", "calico"]\n"dart.intake_cm" = [6, 9]\n'
    one = found(tmp_path, text, lambda s: 2.0 if s["cloth.cloth"] == "flannel" else 0.5)
    axis = plot_matters(one.matters).axes[0]
    assert [label.get_text() for label in axis.get_xticklabels()] == ["flannel", "calico"]


def test_bodies_are_marked_by_how_the_draft_sits_on_them(tmp_path: Path) -> None:
    gaps = {"man-5": 9.0, "man-50": 0.4, "man-95": 1.5, "ferry-warden": 0.4}
    one = found(tmp_path, BODIES + 'draft = "one for all"\n', lambda s: gaps[s["body"]])
    (axis,) = plot_reach(one.drafts[0].results, one.reaches).axes
    counts = {scatter.get_label(): len(scatter.get_offsets()) for scatter in axis.collections}
    assert counts == {"sits (2)": 2, "may sit or not (1)": 1, "does not sit (1)": 1}
    no = next(scatter for scatter in axis.collections if scatter.get_label().startswith("does not"))
    body = one.plan.wearers["man-5"]
    assert np.asarray(no.get_offsets())[0] == pytest.approx(
        [100 * body.tape["stature"], 100 * body.tape["chest_girth"]]
    )


def test_a_bar_to_a_draft_is_as_long_as_its_bodies(tmp_path: Path) -> None:
    one = found(
        tmp_path, '[vary]\n"dart.intake_cm" = [6, 9]\n' + BODIES, lambda s: 9.0 if s["dart.intake_cm"] == 6 else 0.4
    )
    (axis,) = plot_drafts(one.drafts, ["nine", "six"]).axes
    widths = [bar.get_width() for bar in axis.patches]
    assert widths == [4.0, 0.0, 0.0, 0.0, 0.0, 4.0]
    assert [label.get_text() for label in axis.get_yticklabels()] == ["nine", "six"]
