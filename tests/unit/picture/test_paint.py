"""Paint: even steps, the same for every fitting, and honest about what is undecided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from drape.errors import PictureError
from drape.picture import paint
from drape.picture.choices import PAINT_NAMES
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]


def test_every_reading_has_even_steps_and_a_label_for_each(cone: Cone) -> None:
    assert tuple(paint.KINDS) == PAINT_NAMES
    for name in paint.KINDS:
        painted = paint.paint_of(cone(), name)
        assert np.ptp(np.diff(painted.edges)) < 1e-12
        assert len(painted.labels) == len(painted.colours) == len(painted.edges) - 1
        assert painted.values.shape == (len(cone().worn),)


def test_values_are_in_the_unit_printed(cone: Cone) -> None:
    """Stand-off in centimetres: at the neck edge 9 cm less 7 less half the cloth."""
    fitting = cone()
    painted = paint.paint_of(fitting, "stand-off")
    assert painted.values[fitting.edges["front neck"]] == pytest.approx(1.85, abs=0.1)
    assert painted.unit == "cm"
    assert painted.labels[0] == "0–0.5" and painted.labels[-1] == "over 3.5"
    assert paint.paint_of(fitting, "layers").labels == ("1", "2", "3", "4 or more")


def test_a_fitting_that_did_not_settle_is_undecided_all_over(cone: Cone) -> None:
    assert not paint.paint_of(cone(), "layers").undecided.any()
    assert paint.paint_of(cone(readings={"settled": False}), "layers").undecided.all()


@pytest.mark.long
def test_starts_that_differ_are_undecided_where_they_do(cone: Cone) -> None:
    """The second start hangs 2 cm further out in front: half of that is more than a step of half a centimetre."""
    first, second = cone(), cone()
    front = second.worn[:, 1] > 0
    moved = second.worn.copy()
    ring = np.linalg.norm(moved[:, :2], axis=1, keepdims=True)
    out = moved * np.hstack([(ring + 0.02) / ring, (ring + 0.02) / ring, np.ones_like(ring)])
    moved[front] = out[front]
    painted = paint.paint_of(first, "stand-off", starts=[replace(second, worn=moved)])
    near = paint.paint_of(first, "stand-off").values < 2.4
    assert painted.starts == 2
    assert painted.undecided[near & front].mean() > 0.9
    assert not painted.undecided[near & ~front].any()
    assert painted.values[near & front] - paint.paint_of(first, "stand-off").values[near & front] == pytest.approx(
        1.0, abs=0.1
    )


def test_a_start_of_another_draft_and_an_unknown_reading_are_refused(cone: Cone) -> None:
    with pytest.raises(PictureError, match="differs from that of cone by"):
        paint.paint_of(cone(), "layers", starts=[cone(hem=0.3, flat=1.2 * cone().flat)])
    with pytest.raises(PictureError, match="'pull'"):
        paint.paint_of(cone(), "pull")
