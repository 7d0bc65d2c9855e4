"""Plates: the size of the paper, nothing cropped, the hem's line where the reading says."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from families import most_are_long
from PIL import Image

from drape.picture import camera, lettering
from drape.picture import pages as plates
from drape.picture import stage as picture
from drape.picture.paint import paint_of
from drape.reading.result import Fitting

pytestmark = pytest.mark.usefixtures("few_directions")

Cone = Callable[..., Fitting]
FALL = {"front_cm": 60.0, "left_cm": 66.0, "back_cm": 60.0, "right_cm": 60.0, "reaches": "the knee", "lowest_cm": 60.0}


def ink(image: Image.Image, colour: tuple[int, int, int]) -> np.ndarray:
    return (np.asarray(image) == colour).all(axis=-1)


def is_clear(image: Image.Image, margin: int) -> bool:
    """Paper only, all round."""
    pixels = np.asarray(image)
    rims = (pixels[:margin], pixels[-margin:], pixels[:, :margin], pixels[:, -margin:])
    return all((rim == lettering.PAPER).all() for rim in rims)


@pytest.mark.long
def test_the_length_plate_rules_the_hem_where_the_reading_is(cone: Cone) -> None:
    fitting = cone(readings={"scene": "cone", "settled": True, "fall": FALL}, levels={"knee": 0.5, "waist": 1.0})
    stage = picture.Stage(fitting)
    page = plates.length_plate(stage)
    assert page.width == lettering.SHEET_WIDTH and is_clear(page, 20)
    ruled = ink(page, lettering.STAMP)[: page.height - 200]  # the views, not the numbers below them
    rows = np.flatnonzero(ruled.sum(axis=1) > 200)
    cloth = np.asarray(page).astype(int)
    hem_rows = np.flatnonzero((cloth[..., 2] > cloth[..., 0] + 30).sum(axis=1) > 50)
    assert hem_rows.max() == pytest.approx(rows.max(), abs=3)  # the cone's own hem is at 60 cm
    below = cloth[rows.max() + 100 :, 700].sum(
        axis=1
    )  # beside the figure, under the knee: paper, lines of 10 cm, floor
    floor = rows.max() + 100 + int(np.flatnonzero(below < 660)[0])
    assert rows.max() - rows.min() == pytest.approx((floor - rows.max()) / 10, abs=3)  # 66 cm on the left, 60 here


@pytest.mark.usefixtures("hard_pixels")
@pytest.mark.long
@pytest.mark.parametrize("reading", ["stand-off", "layers"])
def test_the_painted_plate_holds_views_draft_and_scale(cone: Cone, reading: str) -> None:
    fitting = cone()
    painted = paint_of(fitting, reading)
    page = plates.painted_plate(picture.Stage(fitting), painted)
    assert page.width == lettering.SHEET_WIDTH and is_clear(page, 12)
    for colour in painted.colours:
        exact = (np.abs(np.asarray(page, int)[:, -500:] - np.rint(colour)) <= 1).all(axis=-1)
        assert exact.sum() > 500, "each band stands in the scale"


@pytest.mark.usefixtures("hard_pixels")
def test_a_plate_of_one_that_did_not_settle_is_stamped(cone: Cone) -> None:
    for settled, stamped in ((True, 0), (False, 5000)):
        stage = picture.Stage(cone(readings={"settled": settled}))
        count = ink(
            plates.single_view(stage, camera.frame_of([stage.fitting], "above"), "above", height=900), lettering.STAMP
        ).sum()
        assert (count >= stamped) if stamped else count == 0


@pytest.mark.parametrize(("view", "extra"), most_are_long([("front", 96), ("neck", 0)], "front"))
def test_a_single_view_has_its_height_and_a_staff_or_a_bar(cone: Cone, view: str, extra: int) -> None:
    stage = picture.Stage(cone())
    frame = camera.frame_of([stage.fitting], view)
    image = plates.single_view(stage, frame, view, height=600)
    assert image.height == 600
    assert image.width == plates.size_for(frame, 600, widest=1200)[0] + extra
    if view == "front":
        grey = ink(image, lettering.GREY)[:, :96]
        assert grey.sum() > 500
    else:
        per_metre = frame.pixels_per_metre((image.width, 600))
        bar = ink(image, lettering.INK)[-60:].sum(axis=1).max()
        assert bar == pytest.approx(0.1 * per_metre, abs=6)


def test_pages_are_a4_and_nothing_is_lost() -> None:
    wide, tall = Image.new("RGB", (2400, 1300), "black"), Image.new("RGB", (900, 1600), "black")
    pages = plates.as_pages([wide, tall])
    for page, upright in zip(pages, (False, True), strict=True):
        ratio = max(page.size) / min(page.size)
        assert ratio == pytest.approx(2**0.5, abs=0.002)
        assert (page.height > page.width) is upright
        dark = np.asarray(page.convert("L")) < 10
        assert (
            dark.any() and not dark[0].any() and not dark[:, 0].any() and not dark[-1].any() and not dark[:, -1].any()
        )


@pytest.mark.long
@pytest.mark.usefixtures("hard_pixels")
def test_a_strip_shows_the_first_rest_from_both_sides_and_each_other_from_where_most_is_seen(cone: Cone) -> None:
    """A cone moved to the wearer's right is best seen from in front or behind, one moved forward from the side."""
    first = cone()
    aside, ahead = (
        cone(worn=first.worn + way, about={"worn": {"words": words}})
        for way, words in (((0.2, 0.0, 0.0), "aside"), ((0.0, 0.2, 0.0), "ahead"))
    )
    assert plates.side_showing_most(first, aside) == 0.0
    assert plates.side_showing_most(first, ahead) == pytest.approx(1.5 * np.pi)
    left = np.flatnonzero(first.worn[:, 0] < -0.05)
    closed = {name: run for name, run in first.edges.items() if not name.endswith("opening")}
    for edge in ("front opening", "right opening"):
        thrown = cone(edges={**closed, edge: left})
        assert plates.side_showing_most(thrown, ahead) == pytest.approx(0.5 * np.pi)
    back = cone(worn=first.worn, about={"worn": {"words": "back from aside"}})
    stages = [picture.Stage(one) for one in (first, ahead, back)]
    strip = plates.strip_plate(stages, "Thrown over: it stays.")
    alone = plates.strip_plate(stages[:1], "Thrown over: it stays.")
    longer = plates.strip_plate(stages[:1], "It stays. " * 40)
    words = ["from in front", "from behind", "ahead, from the right", "back from aside, from the right"]
    frames = plates.frames_of(strip)
    assert [caption for caption, _ in frames] == words and len({image.size for _, image in frames}) == 1
    pictures = [[image.tobytes() for _, image in plates.frames_of(one)] for one in (alone, longer)]
    assert longer.height > alone.height and pictures[0] == pictures[1]
    changed = strip.copy()
    changed.info[plates.FRAMES] = "drawn over"
    assert plates.frames_of(changed) == [("as it was drawn", changed)]
    assert is_clear(strip, 20) and alone.width < strip.width <= lettering.SHEET_WIDTH
    unsettled = picture.Stage(cone(readings={"scene": "cone", "settled": False}))
    stamped = plates.strip_plate([unsettled], "It is not settled.")
    assert ink(stamped, lettering.STAMP).sum() > ink(alone, lettering.STAMP).sum()
