"""remarks: what was asked of a draft and is not on it, or is changed, is said;
a draft as asked has nothing said of it.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from families import most_are_long
from stand_in import standing_body

from drape.command.main import main
from drape.cutting.chalk_card import write_chalk_card
from drape.cutting.draft_drawing import FOLD, write_draft_svg
from drape.draft.cloak import draft_cloak
from drape.draft.style import CollarStyle, Dags, Dart, Style, with_placed_darts
from drape.errors import NotSettledError
from drape.fitting.hem_trim import hem_remarks
from drape.fitting.scene import load_scene, shipped_scenes
from drape.fitting.sit import draft_of, figure_cut_for
from drape.fitting.starter_scene import STARTER_SCENE
from drape.reading.table import dimensions_table, table

WIDE = Style("tailored", 1.1, sweep=1.5 * math.pi, closure_place="centre front", darts=(Dart("right shoulder"),))
ASKED_AND_SAID = {
    "a dart where there is nothing to take out": (
        WIDE,
        ["dart, right shoulder: asked, not on the draft: a sector of 270 degrees"],
    ),
    "a dart on each": (
        Style("tailored", 1.1, sweep=1.5 * math.pi, closure_place="centre front", darts=(Dart(),)),
        ["dart, left shoulder: asked, not", "dart, right shoulder: asked, not"],
    ),
    "cuts on a round neck": (
        Style("round", 1.1, shoulder_cut_length=0.15),
        ["shoulder cuts: asked, not on the draft: the edges at the closure are straight on a round neck"],
    ),
    "cuts in a wide sector": (
        Style("tailored", 1.1, sweep=1.5 * math.pi, shoulder_cut_bow=0.005),
        ["shoulder cuts: asked, not on the draft: a sector of 270 degrees"],
    ),
    "ease beside a depth": (
        Style("tailored", 1.1, darts=(Dart(),), front_neck_depth=0.26, neck_ease=0.01),
        ["neck ease: asked 1.0 cm, "],
    ),
    "two buttons in 2 cm": (
        Style("tailored", 1.1, darts=(Dart(),), fastened_length=0.02, button_spacing=0.1),
        ["buttons: asked 10.0 cm apart, only one on the draft"],
    ),
    "wide dags": (
        Style("round", 1.1, dags=(Dags("opening", "round", 0.33, 0.05),)),
        ["dags, opening, width: asked 33.0 cm, "],
    ),
    "a collar on a neck as wide above": (
        Style("tailored", 1.1, darts=(Dart(),), collar=CollarStyle(0.04)),
        ["collar: asked shaped, straight on the draft"],
    ),
    "one dart for two like shoulders": (
        Style("tailored", 1.1, closure_place="centre front", darts=(Dart("left shoulder"),)),
        ["shoulders: they are alike on this body, but "],
    ),
    "cuts and no dart": (Style("tailored", 1.1), ["shoulders: they are alike on this body, but "]),
    "a small dart beside large cuts": (
        Style("tailored", 1.1, darts=(Dart(intake=0.02),)),
        ["shoulders: they are alike"],
    ),
}
AS_ASKED = {
    "tailored": Style("tailored", 1.1, darts=(Dart(),)),
    "plain round": Style("round", 1.1),
    "sizes given": Style(
        "tailored", 1.1, darts=(Dart(length=0.14, intake=0.08, leg_bow=0.006),), shoulder_cut_intake=0.08,
        shoulder_cut_length=0.14, front_neck_depth=0.24, back_neck_depth=0.18, button_spacing=0.06, overlap=0.04,
        fastened_to="elbow",
    ),
    "point short": Style("tailored", 1.1, darts=(Dart(point_short=0.02),)),
    "bent hem": Style("tailored", 1.1, darts=(Dart(),), front_length=1.0, side_length=0.9),
    "darts at azimuths": Style(
        "round", 1.1, neck_width=0.15,
        darts=tuple(Dart(azimuth=math.radians(deg), length=0.1, intake=0.02) for deg in (150, 210)),
    ),
    "none asked": Style("tailored", 1.1, sweep=1.5 * math.pi, darts=(Dart(intake=0.0),)),
    "one on each": Style("tailored", 1.1, closure_place="centre front", darts=(Dart(),)),
}  # fmt: skip


@pytest.mark.parametrize("case", ASKED_AND_SAID)
def test_what_is_not_as_asked_is_said(case: str) -> None:
    style, wanted = ASKED_AND_SAID[case]
    body = standing_body()
    if style.collar:
        body.tape["neck_girth"] = body.tape["neck_base_girth"]
    said = draft_cloak(style, body).remarks
    for words in wanted:
        assert [line for line in said if line.startswith(words)], said
    assert len([line for line in said if not line.startswith("shoulders:")]) <= len(wanted)


@pytest.mark.parametrize("case", AS_ASKED)
def test_nothing_is_said_of_a_draft_as_asked(case: str) -> None:
    assert draft_cloak(AS_ASKED[case], standing_body()).remarks == ()


def test_unlike_shoulders_may_be_treated_unlike() -> None:
    """A body with one shoulder 10 degrees steeper needs less taken out there."""
    style = Style("tailored", 1.1, closure_place="centre front", darts=(Dart("left shoulder"),))
    said = draft_cloak(style, standing_body(slope_left=20.0, slope_right=36.0)).remarks
    assert [line for line in said if not line.startswith("closure: ")] == []


def test_a_dart_over_one_of_two_nearly_like_shoulders_is_told() -> None:
    """Four degrees between the shoulders ask for a sixth less on one of them, not for nothing."""
    style = Style("tailored", 1.1, closure_place="centre front", darts=(Dart("left shoulder"),))
    (said,) = draft_cloak(style, standing_body(slope_left=21.0, slope_right=25.0)).remarks
    assert said.startswith("shoulders: on this body the left one slopes 21 degrees, the right one 25, but ")
    assert "taken out on the left and nothing on the right" in said
    both = Style("tailored", 1.1, closure_place="centre front", darts=(Dart(),))
    assert draft_cloak(both, standing_body(slope_left=21.0, slope_right=25.0)).remarks == ()


def test_a_closure_that_unlike_shoulders_push_aside_is_told() -> None:
    """A tailored front is cut open at centre front; where its hem is drawn, or the sector leaves no room beside its
    edges, the remark says what the draft that opens over a shoulder does, whose front holds centre front whole."""
    style = Style("tailored", 0.9, closure_place="centre front", darts=(Dart(),))
    body = standing_body(slope_left=31.0, slope_right=22.0)
    assert draft_cloak(style, body).remarks == ()
    phi = np.linspace(0.0, math.pi, 7)
    points = 1.05 * np.stack([np.cos(phi), np.sin(phi)])
    drawn = replace(style, length=None, hem_along=tuple(points[0]), hem_up=tuple(points[1]))
    (said,) = draft_cloak(drawn, body).remarks
    front = draft_cloak(replace(style, closure_place="right shoulder"), body).marks["front neck"]
    off = 100 * float(front @ [-math.sqrt(0.5), math.sqrt(0.5)])
    assert off > 2.0
    assert said.startswith(f"closure: it lies to the right of centre front, by {off:.1f} cm, since the left shoulder ")
    assert "off the left opening edge" in said and 'place = "right shoulder"' in said
    (said,) = draft_cloak(drawn, standing_body(slope_left=22.0, slope_right=31.0)).remarks
    assert "to the left of centre front" in said and "off the right opening edge" in said
    wide = replace(style, sweep=2 * math.pi, darts=())
    said = draft_cloak(wide, standing_body(slope_left=20.0, slope_right=32.0)).remarks[-1]
    assert "to the left of centre front" in said and "opening edge" not in said  # there is no cloth left to cut on
    (said,) = draft_cloak(replace(style, neck="round", sweep=math.radians(150)), body).remarks
    assert "to the right of centre front" in said and "opening edge" not in said  # it is not drawn from the figure


def test_a_length_that_the_trimming_changes_is_said() -> None:
    """A trim of 3 cm all round, as a settled hem may ask, is no longer the length given."""
    style, trim = Style("tailored", 1.1, darts=(Dart(),), level=True), np.full(49, 0.03)
    assert draft_cloak(style, standing_body()).remarks == ()
    (said,) = draft_cloak(style, standing_body(), trim=trim).remarks
    assert said.startswith("length behind: asked 110.0 cm, 113.0 on the draft: the hem is levelled")


def test_a_dart_without_a_place_follows_the_closure() -> None:
    places = {}
    for closure in ("right shoulder", "left shoulder", "centre front"):
        drafted = draft_cloak(Style("tailored", 1.1, closure_place=closure, darts=(Dart(),)), standing_body())
        places[closure] = [dart.place for dart in drafted.darts]
    assert places == {
        "right shoulder": ["left shoulder"], "left shoulder": ["right shoulder"],
        "centre front": ["left shoulder", "right shoulder"],
    }  # fmt: skip


def test_placed_darts_make_the_same_draft() -> None:
    """A pair written out, its second at the end, so that those between keep their places in the file."""
    style = Style(
        "tailored", 1.1, closure_place="centre front",
        darts=(Dart(), Dart(azimuth=math.pi, length=0.1, intake=0.02)),
    )  # fmt: skip
    placed = with_placed_darts(style)
    assert [dart.place for dart in placed.darts] == ["left shoulder", None, "right shoulder"]
    first, second = (draft_cloak(one, standing_body()) for one in (style, placed))
    assert all(np.array_equal(a.points, b.points) for a, b in zip(first.edges, second.edges, strict=True))


@pytest.mark.parametrize("place", ["right shoulder", "left shoulder", "centre front"])
def test_the_starter_treats_both_shoulders_alike_wherever_it_closes(place: str, tmp_path: Path) -> None:
    text = STARTER_SCENE.replace('place = "right shoulder"', f'place = "{place}"')
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    scene = load_scene(tmp_path / "a.toml")
    draft = draft_of(scene, figure_cut_for(scene))
    assert draft.remarks == ()
    assert draft.darts and {dart.place for dart in draft.darts} == {"left shoulder", "right shoulder"} - {place}


@pytest.fixture
def lopsided(tmp_path: Path) -> Path:
    """The starter closed at centre front, a dart asked for on the left shoulder alone."""
    text = STARTER_SCENE.replace('place = "right shoulder"', 'place = "centre front"').replace("# place = ", "place = ")
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    return tmp_path / "a.toml"


def test_shoulders_treated_unlike_are_told_before_settling(
    lopsided: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def never(*given: object, **named: object) -> None:
        raise NotSettledError("settling began")

    monkeypatch.setattr("drape.fitting.sit.sit_afresh", never)
    assert main(["sit", str(lopsided), "--out", str(lopsided.parent / "out")]) == 3
    told, _, after = capsys.readouterr().err.partition("settling began")
    assert (
        after and "a: shoulders: they are alike on this body, but 9.5 cm are taken out on the left and nothing" in told
    )


@pytest.mark.long
def test_draft_and_cut_say_it_in_text_and_json(lopsided: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = ["--out", str(lopsided.parent / "out")]
    for command in (["draft", str(lopsided), *out], ["cut", str(lopsided), *out, "--no-table", "--width-cm", "200"]):
        assert main(command) == 0
        assert "shoulders: they are alike" in capsys.readouterr().out
        assert main([*command, "--json"]) == 0
        (said,) = json.loads(capsys.readouterr().out)["remarks"]
        assert said.startswith("shoulders: they are alike")


def test_a_hem_that_trimming_left_off_is_said() -> None:
    """Six of ten points of a hem asked level hang 2 cm lower; at 4 mm, as near as trimming brings it,
    nothing is said.
    """
    style, turn = Style("round", 1.1, level=True), np.linspace(0.0, math.pi, 10)
    flat = np.column_stack([np.cos(turn), np.sin(turn)])
    for low, count in ((0.02, 1), (0.004, 0)):
        hem = np.column_stack([np.cos(2 * turn), np.sin(2 * turn), 0.3 - low * (turn > 1.4)])
        said = hem_remarks(style, standing_body(), flat, hem)
        assert len(said) == count
        assert all("up to 2.0 cm off" in line for line in said)


@pytest.mark.parametrize("name", most_are_long(shipped_scenes(), "ferry-warden-tailored", "lamp-bearer-collar"))
def test_the_shipped_scenes_are_drafted_as_they_ask(name: str) -> None:
    scene = load_scene(name)
    assert draft_of(scene, figure_cut_for(scene)).remarks == ()


def test_remarks_stand_on_sheet_card_and_in_the_tables(tmp_path: Path) -> None:
    draft = draft_cloak(WIDE, standing_body())
    (said,) = draft.remarks
    for write in (write_draft_svg, write_chalk_card):
        write(draft, tmp_path / "a.svg", title="a")
        words = " ".join(
            node.text or "" for node in ElementTree.parse(tmp_path / "a.svg").iter() if node.tag.endswith("}text")
        )
        assert said in " ".join(words.split())
    for text in (
        dimensions_table("a", {"remarks": [said]}),
        table([{"scene": "a", "settled": True, "remarks": [said]}]),
    ):
        assert said in " ".join(text.split())


def test_the_drawn_sheet_folds_every_dart_and_cuts_across_its_mouth(tmp_path: Path) -> None:
    """The fold stands in the whole piece, in the neck drawn larger and in the key;
    the mouth is in the cut line's ink.
    """
    draft = draft_cloak(AS_ASKED["one on each"], standing_body())
    write_draft_svg(draft, tmp_path / "a.svg", title="a")
    drawn = [node for node in ElementTree.parse(tmp_path / "a.svg").iter() if node.tag.endswith("}polyline")]
    folds = [node for node in drawn if node.get("stroke-dasharray") == "5 9"]
    assert 'stroke-dasharray="5 9"' in FOLD
    assert len(folds) == 2 * len(draft.darts) + 1
    ends = {
        tuple(pair)
        for node in drawn
        if "stroke-dasharray" not in node.attrib
        for pair in [node.get("points", "").split()]
    }
    middles = [np.mean([[float(v) for v in p.split(",")] for p in pair], axis=0) for pair in ends if len(pair) == 2]
    for fold in folds[: 2 * len(draft.darts)]:
        end = np.array([float(v) for v in fold.get("points", "").split()[1].split(",")])
        assert min(np.abs(middle - end).max() for middle in middles) < 0.02
