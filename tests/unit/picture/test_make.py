"""What `drape show` makes: whole files, of the right size, alike each time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from families import most_are_long
from PIL import Image

from drape.errors import PictureError
from drape.picture import lettering, make
from drape.reading.result import Fitting

pytestmark = pytest.mark.usefixtures("few_directions", "hard_pixels")

Cone = Callable[..., Fitting]


@pytest.mark.parametrize("times", most_are_long([1, 2]))
def test_a_sheet_is_written_whole_and_alike_each_time(tmp_path: Path, cone: Cone, times: int) -> None:
    fittings = [cone(), cone(readings={"settled": False, "verdicts": [{"where": "hem"}]})]
    names = ["one.png", "two.png"][:times]
    for name in names:
        make.draw_sheet(fittings, tmp_path / name)
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / names[-1]).read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == names
    with Image.open(tmp_path / "one.png") as sheet:
        pixels = np.asarray(sheet)
    assert pixels.shape[1] == 2400
    stamped = (pixels == lettering.STAMP).all(axis=-1)
    half = len(pixels) // 2
    assert stamped[half:].sum() > 5000  # the second row did not settle
    assert stamped[400:half].sum() == 0 and stamped[:400].sum() > 5000  # the conclusion says so too


def test_each_fault_is_marked_by_its_number_in_a_view_that_shows_it(cone: Cone) -> None:
    found = [("neck.gap_front_cm", False), ("fall.clearance_cm", True), ("balance.turn_deg", False)]
    verdicts = [
        {"reading": reading, "harm": "cut", "undecided": undecided, "where": "", "finding": ""}
        for reading, undecided in found
    ]
    worn = cone().worn.copy()
    lowest = cone().edges["hem"][-20]
    worn[lowest, 2] -= 0.05
    fitting = cone(worn=worn, readings={"settled": True, "verdicts": verdicts, "balance": {"turn_deg": 10.0}})
    stage = make.Stage(fitting)
    frames = {view: make.frame_of([fitting], view) for view in make.VIEWS}
    sizes = dict.fromkeys(frames, (300, 600))
    marks = make.marks_on(stage, frames, sizes)
    assert [mark.number for mark in marks["neck"]] == [1, 3]
    ((view, (hem,)),) = [(view, own) for view, own in marks.items() if view != "neck"]
    assert hem.number == 2 and not hem.is_certain and hem.shows
    assert hem.at == pytest.approx(frames[view].fitted((300, 600)).pixels(worn[lowest], (300, 600))[0])


def test_a_sheet_holds_one_to_six_fittings(tmp_path: Path, cone: Cone) -> None:
    for count in (0, 7):
        with pytest.raises(PictureError, match=f"got {count}, allowed 1 to 6"):
            make.draw_sheet([cone()] * count, tmp_path / "sheet.png")


def job(tmp_path: Path, *fittings: Fitting, **how: object) -> make.Job:
    return make.Job(list(fittings), tmp_path, fittings[0].name, **how)


@pytest.mark.long
def test_the_turn_goes_once_round_by_one_camera(tmp_path: Path, cone: Cone, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(make, "TURN_FRAMES", 6)
    monkeypatch.setattr(make, "TURN_HEIGHT", 160)
    make.make_turn(job(tmp_path, cone()))
    with Image.open(tmp_path / "cone-turn.gif") as turning:
        assert turning.n_frames == 6 and turning.info["loop"] == 0
        frames = []
        for k in range(6):
            turning.seek(k)
            frames.append(np.asarray(turning.convert("RGB"), int))
    assert {frame.shape for frame in frames} == {frames[0].shape}
    assert all(np.abs(frames[k] - frames[k - 1]).max() > 20 for k in range(1, 6))


def test_the_turn_is_large_enough_to_judge_by() -> None:
    assert make.TURN_HEIGHT == 800


def test_a_colour_of_few_pixels_is_kept_in_the_turn(tmp_path: Path) -> None:
    """Four pixels of ochre among blue ones."""
    blue = np.random.default_rng(0).integers(60, 160, (100, 80, 1)) * np.array([0.5, 0.7, 1.0])
    blue[50:52, 40:42] = (200, 150, 68)
    frame = Image.fromarray(blue.astype(np.uint8))
    make.write_gif([frame, frame, frame], tmp_path / "a.gif", tints=[np.array([207.0, 154.0, 69.0])])
    with Image.open(tmp_path / "a.gif") as turning:
        found = np.asarray(turning.convert("RGB"), int)[50, 40]
    assert np.abs(found - (200, 150, 68)).max() < 14


@pytest.mark.long
def test_single_views_share_their_camera_and_name_their_side(tmp_path: Path, cone: Cone) -> None:
    wide = cone(hem=0.2, name="wide")
    made = job(tmp_path, cone(), wide, views=["front"], azimuth=0.5, elevation=0.3, height=300, paint="layers")
    make.make_views(made)
    assert sorted(made.written) == ["cone-at-29.png", "cone-front.png", "wide-at-29.png", "wide-front.png"]
    sizes = set()
    for name in ("cone-front.png", "wide-front.png"):
        with Image.open(tmp_path / name) as view:
            sizes.add(view.size)
    assert len(sizes) == 1 and next(iter(sizes))[1] == 300


def test_two_of_one_name_do_not_write_over_each_other(cone: Cone) -> None:
    names = [fitting.name for fitting in make.distinct([cone(), cone(name="wide"), cone()])]
    assert names == ["cone", "wide", "cone-2"]


def test_a_page_is_an_a4_pdf_alike_each_time(tmp_path: Path) -> None:
    page = Image.new("RGB", (800, 500), lettering.PAPER)
    for name in ("one.pdf", "two.pdf"):
        make.write_pdf([page, page], tmp_path / name)
    raw = (tmp_path / "one.pdf").read_bytes()
    assert raw == (tmp_path / "two.pdf").read_bytes()
    assert raw.startswith(b"%PDF") and raw.count(b"/Type /Page ") + raw.count(b"/Type /Page\n") == 2
    assert b"841.68 595.44" in raw  # A4 turned sideways, in points


def test_a_folder_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="wanted a file that can be written") as caught:
        make.save_image(Image.new("RGB", (4, 4)), tmp_path / "nowhere" / "a.png")
    assert "\n" not in str(caught.value)


@pytest.mark.long
def test_a_page_of_what_is_worn_has_a_strip_for_each_way_and_asks_nothing_of_a_network(
    tmp_path: Path, cone: Cone
) -> None:
    way = {
        "doing": "stand", "settled": True, "stays": True, "slid_cm": 6.0, "turned_deg": 0.0, "ridden_back_cm": 0.0,
        "trodden_on": False, "arms": {"left": {"free": False, "bare_cm": 0.0, "bare_at": []}},
    }  # fmt: skip
    worn = [
        cone(name=f"cone-{name}", readings={**way, "how": how}, about={"worn": {"how": how, "words": words}})
        for name, how, words in (
            ("thrown", "thrown over", "stand"), ("thrown-lean", "thrown over", "lean"), ("open", "open", "stand"),
        )
    ]  # fmt: skip
    one = job(tmp_path, *worn, cautions=["Mind the <flame>."])
    make.make_wearing(one)
    assert sorted(one.written) == sorted(path.name for path in tmp_path.iterdir())
    assert one.written == ["cone-thrown-strip.png", "cone-open-strip.png", "cone-thrown.html"]
    text = (tmp_path / "cone-thrown.html").read_text(encoding="utf-8")
    assert "<h2>Thrown over</h2><p>It stays over the shoulder" in text and "Mind the &lt;flame&gt;." in text
    assert text.count('<option value="') == 3  # two ways, one paint
    assert text.count("<figcaption>from behind</figcaption>") == 2 and 'alt="open, from behind"' in text
    with Image.open(tmp_path / "cone-open-strip.png") as strip:
        assert [words for words, _ in make.frames_in(strip)] == ["from in front", "from behind"]
    assert "://" not in text.replace("http://www.w3.org", "")
    make.make_strip(job(tmp_path, *worn[:2]))
    assert (tmp_path / "cone-thrown-strip.png").is_file()
