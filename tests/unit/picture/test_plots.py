"""Plots: the arrays handed to the plotter are the readings, unrolled; the drawings are not blank."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hostile import HOSTILE

from drape.picture import plots
from drape.picture.paint import paint_of
from drape.reading.result import Fitting
from drape.reading.worn import SIDES, edge_share, mean_at

Cone = Callable[..., Fitting]


def leaning(cone: Cone) -> Fitting:
    """A cone whose hem rises to the wearer's left by 20 %."""
    fitting = cone()
    worn = fitting.worn.copy()
    worn[:, 2] -= 0.2 * worn[:, 0]
    return replace(fitting, worn=worn)


def test_the_hem_line_is_the_hem(cone: Cone) -> None:
    """z = 60 cm + 0.2 x 35 cm sin(azimuth), and its means are the readings as `reading` takes them."""
    fitting = leaning(cone)
    curve = plots.curve_of(fitting, (), what="hem")
    there = np.isfinite(curve.value)
    assert 340 < 360 * there.mean() < 358  # the opening is 12 degrees wide
    assert curve.value[there] == pytest.approx(60.0 + 7.0 * np.sin(np.radians(curve.degrees[there])), abs=0.35)
    inner = there & (np.abs(curve.degrees + 90.0) > 16.0)
    assert curve.value[inner] == pytest.approx(60.0 + 7.0 * np.sin(np.radians(curve.degrees[inner])), abs=0.03)
    hem = fitting.worn[fitting.edges["hem"]]
    azimuth = np.arctan2(-hem[:, 0], hem[:, 1])
    for place in SIDES.values():
        own = mean_at(100.0 * hem[:, 2], azimuth % (2 * np.pi), edge_share(hem), place)
        at = np.abs((np.radians(curve.degrees) - place + np.pi) % (2 * np.pi) - np.pi) <= np.radians(20.0)
        assert np.nanmean(curve.value[at]) == pytest.approx(own, abs=0.35)


def test_a_hem_in_folds_is_one_height_at_each_place(cone: Cone) -> None:
    """A hem that turns back on itself six times round: the line does not, and keeps within the hem's heights."""
    fitting = cone()
    worn = fitting.worn.copy()
    hem = fitting.edges["hem"]
    turn = np.arctan2(-worn[hem, 0], worn[hem, 1])
    folded = turn + 0.5 * np.sin(6 * turn)
    worn[hem] = np.column_stack([-0.35 * np.sin(folded), 0.35 * np.cos(folded), 0.6 + 0.05 * np.cos(3 * turn)])
    curve = plots.curve_of(replace(fitting, worn=worn), (), what="hem")
    assert (np.diff(curve.degrees) > 0.0).all()
    assert curve.degrees[[0, -1]].tolist() == [-180.0, 180.0]
    there = np.isfinite(curve.value)
    assert there.mean() > 0.9
    assert 55.0 <= curve.value[there].min() and curve.value[there].max() <= 65.0


def test_what_is_handed_to_the_plotter_is_the_curve(cone: Cone) -> None:
    fitting = leaning(cone)
    figure = plots.plot_round([fitting])
    lines = [line for line in figure.axes[1].get_lines() if line.get_label() == fitting.title]
    curve = plots.curve_of(fitting, (), what="hem")
    assert len(lines) == 1
    np.testing.assert_array_equal(lines[0].get_xdata(), curve.degrees)
    np.testing.assert_array_equal(lines[0].get_ydata(), curve.value)


def test_other_starts_are_a_band_that_holds_every_one(cone: Cone) -> None:
    first, second = cone(), leaning(cone)
    curve = plots.curve_of(first, [second], what="hem")
    assert curve.low is not None and curve.high is not None
    other = 60.0 + 7.0 * np.sin(np.radians(plots.GRID_DEG))
    assert (curve.low <= np.minimum(other, 60.0) + 0.3).all()
    assert (curve.high >= np.maximum(other, 60.0) - 0.3).all()
    assert curve.high.max() == pytest.approx(67.0, abs=0.1)
    assert plots.curve_of(first, (), what="hem").low is None


def test_spreads_of_readings_become_bars(cone: Cone) -> None:
    readings = {"settled": True, "neck": {"gap_left_cm": 1.0, "gap_left_cm_spread": 0.3, "gap_back_cm": 2.0}}
    assert plots.curve_of(cone(readings=readings), (), what="neck").spread == {"left": (1.0, 0.3)}


@pytest.mark.parametrize("reading", ["stand-off", "layers", None])
def test_the_flat_draft_is_drawn_where_it_lies_and_not_cropped(cone: Cone, reading: str | None) -> None:
    fitting = cone()
    figure = plots.plot_flat(fitting, None if reading is None else paint_of(fitting, reading), width=7.0)
    (axis,) = figure.axes
    low, high = fitting.flat.min(axis=0), fitting.flat.max(axis=0)
    assert axis.get_xlim()[0] < low[0] and axis.get_xlim()[1] > high[0]
    assert axis.get_ylim()[0] < low[1] and axis.get_ylim()[1] > high[1]
    image = plots.pixels_of(figure, 700)
    pixels = np.asarray(image)
    assert image.width == 700 and pixels.std() > 10
    rim = np.concatenate([pixels[:2].reshape(-1, 3), pixels[-2:].reshape(-1, 3), pixels[:, :2].reshape(-1, 3)])
    assert np.ptp(rim, axis=0).max() == 0  # paper all round


def test_undecided_parts_of_the_flat_draft_are_hatched(cone: Cone) -> None:
    plain, doubted = (
        np.asarray(plots.pixels_of(plots.plot_flat(f, paint_of(f, "layers"), width=3.0), 400), int)
        for f in (cone(), cone(readings={"settled": False}))
    )
    darker = (plain - doubted).sum(axis=2) > 60
    assert 0.02 < darker.mean() < 0.5


def test_a_dart_on_the_flat_draft_is_folded_not_cut_out(cone: Cone) -> None:
    fitting = cone()
    point, back, front = (0.0, 0.3), (-0.05, 0.2), (0.05, 0.2)
    flat = np.vstack([fitting.flat, [back, point, front]])
    first = len(fitting.flat)
    legs = {"dart back leg": np.array([first, first + 1]), "dart front leg": np.array([first + 2, first + 1])}
    figure = plots.plot_flat(replace(fitting, flat=flat, edges={**fitting.edges, **legs}))
    (fold,) = figure.axes[0].patches
    assert {tuple(corner) for corner in np.asarray(fold.get_xy()).round(6).tolist()} == {point, back, front}
    mouths = [line for line in figure.axes[0].lines if np.array_equal(line.get_xydata(), [back, front])]
    assert len(mouths) == 1 and mouths[0].get_linestyle() == "-"


@pytest.mark.long
def test_a_title_in_the_legend_is_no_formula_and_is_not_left_out(cone: Cone) -> None:
    for titles in (HOSTILE[:6], HOSTILE[6:]):  # a legend names six
        figure = plots.plot_round([cone(title=words) for words in titles])
        plots.pixels_of(figure, 400)
        assert [text.get_text().strip() for text in figure.axes[0].get_legend().get_texts()] == list(titles)
