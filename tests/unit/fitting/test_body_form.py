"""The form holds every measure once, with a range real people lie in; filled in it is a body;
the card shows them all.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from drape.body.tape import PLAIN_KEYS, REQUIRED
from drape.errors import SceneError
from drape.fitting.body_form import MEASURES, NUMBER, SIDES, body_form, usual_range
from drape.fitting.scene import load_body, load_wearer
from drape.fitting.scene_keys import TAPE_KEYS
from drape.units import bare_name, from_si

DUE = {"stature_cm": 168.0, "chest_girth_cm": 92.0, "waist_girth_cm": 75.0, "hip_girth_cm": 99.0}


def filled_in(**measures: float) -> str:
    text = body_form("mine-body.toml", "mine-body.svg")
    for key, value in measures.items():
        assert f"\n{key} =\n" in text or f"\n# {key} =\n" in text
        text = re.sub(rf"^(# )?{key} =$", f"{key} = {value}", text, flags=re.MULTILINE)
    return text


@pytest.fixture
def form(tmp_path: Path) -> Path:
    return tmp_path / "mine-body.toml"


def test_the_form_has_every_key_once_and_only_the_due_ones_open(form: Path) -> None:
    lines = body_form("mine-body.toml", "mine-body.svg").splitlines()
    assert sorted(line.removeprefix("# ") for line in lines if line.endswith(" =")) == sorted(
        f"{key} =" for key in TAPE_KEYS
    )
    assert [bare_name(line.removesuffix(" =")) for line in lines if re.fullmatch(r"\w+ =", line)] == list(REQUIRED)
    assert {measure.name for measure in MEASURES} == {*PLAIN_KEYS, "shoulder_slope"} and len(NUMBER) == len(MEASURES)


def test_the_form_filled_in_is_a_body_with_or_without_the_rest(form: Path) -> None:
    form.write_text(filled_in(**DUE), encoding="utf-8")
    body = load_body(form)
    assert (body.name, body.source) == ("mine-body", "")
    assert {key: round(from_si(key, body.tape[bare_name(key)]), 6) for key in DUE} == DUE
    form.write_text(filled_in(**DUE, shoulder_slope_left_deg=24.0, knee_height_cm=46.5), encoding="utf-8")
    assert set(load_body(form).tape) == {*REQUIRED, "shoulder_slope_left", "knee_height"}


def test_a_form_not_filled_in_says_which_number_is_missing(form: Path) -> None:
    form.write_text(body_form("mine-body.toml", "mine-body.svg"), encoding="utf-8")
    with pytest.raises(SceneError, match=r"line \d+: got nothing after stature_cm =, allowed a number"):
        load_body(form)


@pytest.mark.parametrize("name", [measure.name for measure in MEASURES])
@pytest.mark.parametrize("sex", ["man", "woman"])
def test_usual_ranges_are_accepted_ones_and_hold_the_middle_body(name: str, sex: str) -> None:
    key = next(key for key in TAPE_KEYS if bare_name(key) == name)
    low, high = (from_si(key, value) for value in usual_range(name, sex))
    assert TAPE_KEYS[key].low <= low < high <= TAPE_KEYS[key].high
    middle = load_body(f"{sex}-50").tape
    if name in middle:
        assert low < from_si(key, middle[name]) < high


def test_a_usual_range_is_two_spreads_either_way() -> None:
    """ANSUR 1988, women: stature 162.94 cm, standard deviation 6.36; natural waist at 0.6373 of it."""
    assert usual_range("stature", "woman") == pytest.approx((1.6294 - 2 * 0.0636, 1.6294 + 2 * 0.0636))
    assert usual_range("waist_height", "woman")[0] == pytest.approx(0.6373 * (1.6294 - 2 * 0.0636))


ANSWERED = [  # a line under [tape] or [figure], what is said of it
    ("tape", "bust = 92", "tape.bust: unknown key. Here it is chest_girth_cm: write chest_girth_cm = 92."),
    ("tape", "bust_in = 36", "write chest_girth_cm = 91.44."),
    ("tape", "height_m = 1.7", "write stature_cm = 170."),
    ("tape", "waist_cm = 75", "tape.waist_cm: unknown key. Here it is waist_girth_cm: write waist_girth_cm = 75."),
    ("tape", "knee_height_m = 0.46", "write knee_height_cm = 46."),
    ("tape", "neck = 38", "It may be neck_base_girth_cm or neck_girth_cm here"),
    ("tape", "neck_girth_cm = 31,5", "with a comma in the number. Write a point: 31.5."),
    ("tape", 'neck_girth_cm = "31,5"', "Write a point, and no quotes: neck_girth_cm = 31.5."),
    ("figure", "bust = 92",
     "figure.bust: unknown key. Here it is chest_girth_cm: write chest_girth_cm = 92. It belongs in [tape]."),
]  # fmt: skip


@pytest.mark.parametrize(("table", "line", "says"), ANSWERED)
def test_names_a_maker_would_try_are_answered_with_the_key(form: Path, table: str, line: str, says: str) -> None:
    form.write_text(filled_in(**DUE).replace(f"[{table}]\n", f"[{table}]\n{line}\n"), encoding="utf-8")
    with pytest.raises(SceneError) as caught:
        load_body(form)
    assert says in str(caught.value) and "\n" not in str(caught.value)


def test_the_measures_with_two_sides_are_measures() -> None:
    assert set(SIDES) < {bare_name(key) for key in TAPE_KEYS}


def test_a_scene_has_a_wearer_and_each_kind_of_file_is_known(form: Path) -> None:
    form.write_text(filled_in(**DUE), encoding="utf-8")
    scene = form.with_name("mine.toml")
    text = (
        'title = "t"\n[figure]\nbody = "mine-body.toml"\nchest_girth_cm = 95\n[cloth]\ncloth = "flannel"\n[draft]\n'
        'neck = "round"\n'
    )
    scene.write_text(f"{text}length_cm = 90\n", encoding="utf-8")
    assert load_wearer(scene).tape["chest_girth"] == pytest.approx(0.95)
    assert load_wearer(form) == load_body(form)
    assert load_wearer("ferry-warden-round").tape == load_body("ferry-warden").tape
    with pytest.raises(SceneError, match=r"mine.toml: got a scene, allowed a body. `drape sit "):
        load_body(scene)
