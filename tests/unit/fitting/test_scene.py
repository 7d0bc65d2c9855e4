"""Scenes, bodies and cloths: what is let through comes out in SI, everything else gets one line."""

from __future__ import annotations

import math
import random
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mutated import mutated_text, shipped_texts

from drape.body.stance import Stance
from drape.body.worn_under import KINDS
from drape.cache import content_key
from drape.errors import OldKeyWarning, SceneError
from drape.fitting.catalogue import cloths_object
from drape.fitting.scene import (
    DEFAULT_COLOURS,
    FAIR_EDGE_LENGTH,
    load_body,
    load_cloth,
    load_scene,
    shipped_bodies,
    shipped_cloths,
    shipped_folder,
    shipped_scenes,
)
from drape.fitting.scene_keys import SCENE_TABLES
from drape.fitting.starter_scene import STARTER_SCENE
from drape.units import STANDARD_GRAVITY, bare_name, to_si

BODY = """
[figure]
name = "lamp bearer"
sex = "woman"
source = "invented for the Saltmere pageant"

[tape]
stature_cm = 166.0
neck_base_girth_cm = 38.0
chest_girth_cm = 92.0
waist_girth_cm = 76.0
hip_girth_cm = 99.0
shoulder_slope_left_deg = 24.0
shoulder_slope_right_deg = 26.0
"""

SCENE = """
title = "Lamp bearer's cloak"
expect = "two lines\\nof text"

[figure]
body = "bearer.toml"
chest_girth_cm = 95.5

[cloth]
cloth = "heavy melton"

[draft]
sweep_deg = 180.0
neck = "tailored"
length_cm = 112.0
front_neck_depth_cm = 16.0

[closure]
place = "right shoulder"
shoulder_cut_intake_cm = 8.0
fastened_length_cm = 13.0

[[dart]]
place = "left shoulder"
length_cm = 14.0
intake_cm = 7.5

[settle]
edge_length_cm = 2.5
max_steps = 40000

[picture]
outside = "#1A2B3C"
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "bearer.toml").write_text(BODY, encoding="utf-8")
    (tmp_path / "cloak.toml").write_text(SCENE, encoding="utf-8")
    return tmp_path


def complaint(shop: Path, old: str, new: str, *, file: str = "cloak.toml") -> str:
    """The error after replacing some text in a file, with the folder taken out of it."""
    path = shop / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(SceneError) as caught:
        load_scene(shop / "cloak.toml")
    return str(caught.value).replace(f"{shop}/", "")


# --- what is let through ----------------------------------------------------------------------


def test_a_draft_may_be_cut_for_another_than_the_wearer(shop: Path) -> None:
    text = SCENE.replace("[draft]", '[draft]\ncut_for = "woman-50"')
    (shop / "lent.toml").write_text(text, encoding="utf-8")
    scene, own = load_scene(shop / "lent.toml"), load_scene(shop / "cloak.toml")
    assert own.cut_for is None and scene.cut_for == load_body("woman-50")
    assert (scene.body, scene.tape, scene.style) == (own.body, own.tape, own.style)


def test_a_scene_comes_out_in_si(shop: Path) -> None:
    scene = load_scene(shop / "cloak.toml")
    assert (scene.name, scene.title, scene.expect) == ("cloak", "Lamp bearer's cloak", "two lines\nof text")
    assert (scene.body, scene.sex) == ("lamp bearer", "woman")
    assert scene.style.length == 1.12
    assert scene.style.sweep == math.pi
    assert scene.style.neck == "tailored"
    assert scene.style.front_neck_depth == 0.16
    assert scene.style.back_neck_depth is None
    assert scene.style.closure_place == "right shoulder"
    assert scene.style.shoulder_cut_intake == 0.08
    assert scene.style.shoulder_cut_length is None
    assert scene.style.fastened_length == 0.13
    (dart,) = scene.style.darts
    assert (dart.place, dart.length, dart.intake) == ("left shoulder", 0.14, 0.075)
    assert scene.edge_length == 0.025
    assert scene.max_steps == 40000
    assert scene.colours == {**DEFAULT_COLOURS, "outside": "#1a2b3c"}
    assert scene.cloth.areal_density == 0.6


def test_the_scene_overrides_the_tape(shop: Path) -> None:
    tape = load_scene(shop / "cloak.toml").tape
    assert tape["chest_girth"] == 0.955
    assert tape["neck_base_girth"] == 0.38
    assert tape["shoulder_slope_left"] == pytest.approx(math.radians(24.0))


@pytest.mark.parametrize(
    ("own", "kept"),
    [
        ("shoulder_slope_deg = 20.0", {"shoulder_slope", "shoulder_length"}),
        ("shoulder_slope_left_deg = 20.0", {"shoulder_slope_left", "shoulder_slope_right", "shoulder_length"}),
        ("shoulder_length_cm = 13.0", {"shoulder_slope_left", "shoulder_slope_right", "shoulder_length"}),
        ("shoulder_point_height_cm = 134.0", {"shoulder_point_height", "shoulder_length"}),
    ],
)
def test_a_shoulder_measure_frees_the_one_bound_to_it(shop: Path, own: str, kept: set[str]) -> None:
    """sin(slope) = drop / shoulder length: all of them from two sources would contradict each other."""
    bound = "shoulder_length_cm = 14.0\nshoulder_point_height_cm = 136.0\n"
    (shop / "bearer.toml").write_text(BODY + bound, encoding="utf-8")
    (shop / "cloak.toml").write_text(SCENE.replace("chest_girth_cm = 95.5", own), encoding="utf-8")
    tape = load_scene(shop / "cloak.toml").tape
    assert {key for key in tape if key.startswith("shoulder_")} == kept
    key, _, value = own.partition(" = ")
    assert tape[bare_name(key)] == pytest.approx(to_si(key, float(value)))


def test_a_short_scene_is_enough(shop: Path) -> None:
    text = 'title = "Short"\n[figure]\nbody = "bearer.toml"\n[cloth]\ncloth = "flannel"\n'
    (shop / "short.toml").write_text(text + '[draft]\nneck = "round"\nlength_cm = 100\n', encoding="utf-8")
    scene = load_scene(shop / "short.toml")
    assert scene.edge_length == FAIR_EDGE_LENGTH
    assert scene.max_steps is None
    assert scene.style.darts == ()
    assert scene.style.length == 1.0
    assert scene.expect == ""


def test_a_body_is_found_beside_its_scene_wherever_we_stand(
    shop: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path_factory.mktemp("elsewhere"))
    assert load_scene(shop / "cloak.toml").body == "lamp bearer"


def test_frozen(shop: Path) -> None:
    scene = load_scene(shop / "cloak.toml")
    with pytest.raises(TypeError):
        scene.tape["stature"] = 1.0  # type: ignore[index]
    with pytest.raises(AttributeError):
        scene.title = "other"  # type: ignore[misc]


HELD = """
[stance]
stoop_cm = 4.0
shoulders = "usual"
[arms]
left = "forward"
[worn_under]
kind = "jacket"
chest_cm = 3.0
"""


def test_stance_arms_and_what_is_worn_come_from_the_body_and_the_scene_goes_before(shop: Path) -> None:
    """What the body's file says holds until the scene says otherwise, key by key;
    a kind takes the place of all thicknesses.
    """
    plain = load_scene(shop / "cloak.toml")
    assert (plain.stance, plain.arms, dict(plain.worn_under)) == (Stance(), ("down", "down"), {})
    (shop / "bearer.toml").write_text(BODY + HELD, encoding="utf-8")
    scene = load_scene(shop / "cloak.toml")
    assert scene.stance == Stance(stoop=0.04)
    assert scene.arms == ("forward", "down")
    assert scene.worn_under["chest"] == 0.03 and scene.worn_under["back"] == KINDS["jacket"]["back"]
    own = '\n[stance]\nhead_forward_cm = 1.0\n[arms]\nright = "raised"\n[worn_under]\nback_cm = 0\n'
    (shop / "cloak.toml").write_text(SCENE + own, encoding="utf-8")
    scene = load_scene(shop / "cloak.toml")
    assert scene.stance == Stance(stoop=0.04, head_forward=0.01)
    assert scene.arms == ("forward", "raised")
    assert (scene.worn_under["chest"], scene.worn_under["back"]) == (0.03, 0.0)
    (shop / "cloak.toml").write_text(SCENE + '\n[worn_under]\nkind = "padded coat"\n', encoding="utf-8")
    assert dict(load_scene(shop / "cloak.toml").worn_under) == dict(KINDS["padded coat"])


# --- what is refused --------------------------------------------------------------------------

REFUSED = [
    # the unit slips of design and style, each naming what to write
    ("chest_girth_cm = 95.5", "neck_base_girth_cm = 380",
     "cloak.toml, figure.neck_base_girth_cm: got 380, allowed 25 to 60 cm. If this is in millimetres, write 38.0."),
    ("length_cm = 112.0", "length_cm = 1.12", "got 1.12, allowed 15 to 200 cm. If this is in metres, write 112.0."),
    ("chest_girth_cm = 95.5", "neck_base_girth_cm = 15", "If this is in inches, write 38.1."),
    ("sweep_deg = 180.0", "sweep_deg = 3.1416", "If this is in radians, write 180.0."),
    ('cloth = "heavy melton"', 'cloth = "heavy melton"\nareal_density_g_m2 = 0.6', "If this is in kg/m², write 600.0."),
    ("length_cm = 112.0", "length_cm = 5000", "got 5000, allowed 15 to 200 cm. Check the number and its unit."),
    # names
    ("length_cm = 112.0", "lenght_cm = 112.0", "draft.lenght_cm: unknown key. Nearest known: length_cm."),
    ("length_cm = 112.0", "length = 112.0", "draft.length: unknown key. Nearest known: length_cm."),
    ("[draft]", "[drft]", "drft: unknown key or table. Nearest known: draft."),
    ("[draft]", "[draft]\nmax_steps = 3", "draft.max_steps: unknown here. It belongs in [settle]."),
    ("title =", "length_cm = 100\ntitle =", "length_cm: unknown here. It belongs in [draft]."),
    ("[closure]", '"" = 3\n[closure]', 'draft."": unknown key'),
    ("[draft]", "[hood]\nstand_cm = 4\n[draft]", "hood: unknown key or table"),
    ("[draft]", "[collar]\nfront_height_cm = 4\n[draft]", "collar.height_cm: missing, allowed 1 to 20 cm"),
    ("[draft]", "[collar]\nheight_cm = 45\n[draft]", "collar.height_cm: got 45, allowed 1 to 20 cm"),
    ("[draft]", '[[dags]]\nedge = "neck"\n[draft]', 'dags 1.edge: got "neck", allowed "hem", "opening" or "collar"'),
    ("[draft]", '[[dags]]\nedge = "hem"\nkind = "round"\nwidth_cm = 9\n[draft]', "dags 1.depth_cm: missing"),
    ("[draft]", "[facing]\nopening_cm = 80\n[draft]", "facing.opening_cm: got 80, allowed 2 to 40 cm"),
    # kinds of value
    ("length_cm = 112.0", "length_cm = true", "got true, allowed a number, 15 to 200 cm"),
    ("length_cm = 112.0", 'length_cm = "112"', 'got "112", allowed a number'),
    ("length_cm = 112.0", "length_cm = nan", "got nan, allowed a finite number"),
    ("length_cm = 112.0", "length_cm = -inf", "got -inf, allowed a finite number"),
    ("length_cm = 112.0", "length_cm = [112.0]", "got [112.0], allowed a number"),
    ("length_cm = 112.0", "length_cm = 1970-01-01", "allowed a number"),
    ("length_cm = 112.0", f"length_cm = 1{'0' * 400}", "got a number of 401 digits, allowed 15 to 200 cm"),
    ("max_steps = 40000", "max_steps = 0.5", "got 0.5, allowed a whole number"),
    ("max_steps = 40000", "max_steps = 0", "got 0, allowed 1 to"),
    ('"tailored"', '"taylored"', 'got "taylored", allowed "round", "tailored" or "drawn". Did you mean "tailored"?'),
    ('neck = "tailored"', "neck = 3", "draft.neck: got 3, allowed a text"),
    ("#1A2B3C", "navy", 'got "navy", allowed #000000 to #ffffff'),
    ("Lamp bearer's cloak", "", 'title: got "", allowed a text that is not empty'),
    ("Lamp bearer's cloak", "\\u001b[2J", "allowed printable text"),
    ("Lamp bearer's cloak", "two\\nlines", "allowed printable text"),
    ("[[dart]]", "[dart]", "dart: got {'place'"),
    ("[settle]", "[[settle]]", "settle: got [{'edge_length_cm'"),
    # what is due
    ("length_cm = 112.0", "",
     "draft.length_cm: missing, allowed 15 to 200 cm. Add length_cm = ... under [draft], or length_to, or "
     "off_floor_cm."),
    ('title = "Lamp bearer\'s cloak"', "", 'title: missing, allowed a text. Add title = "..." at the top.'),
    ('body = "bearer.toml"', "", "figure.body: missing"),
    ('cloth = "heavy melton"', "", "cloth.cloth: missing, allowed"),
    ('cloth = "heavy melton"', "areal_density_g_m2 = 600", "cloth.thickness_mm: missing, allowed 0.1 to 10 mm"),
    ('cloth = "heavy melton"', 'cloth = "melton"',
     'cloth.cloth: got "melton", no such file; allowed a path, or "light suiting"'),
    ("[draft]", "[lining]\n[draft]", "lining.cloth: missing, allowed"),
    ("[draft]", '[lining]\ncloth = "silk"\n[draft]', 'lining.cloth: got "silk", no such file; allowed a path'),
    ("[draft]", '[lining]\ncloth = "calico"\ncolour = "red"\n[draft]', 'lining.colour: got "red", allowed #000000'),
    ("[draft]", '[interlining]\ncolour = "#000000"\n[draft]',
     "interlining.colour: unknown here. It belongs in [lining]."),
    ("[draft]", "[lining]\nareal_density_g_m2 = 90\n[draft]", "lining.thickness_mm: missing, allowed 0.1 to 10 mm"),
    ('body = "bearer.toml"', 'body = "nobody.toml"', 'cloak.toml, figure.body: got "nobody.toml", no such file'),
    ("[draft]", '[draft]\ncut_for = "nobody.toml"', 'cloak.toml, draft.cut_for: got "nobody.toml", no such file'),
    ("length_cm = 112.0", 'cut_for = "woman-50"\nlength_to = "knee"',
     "draft.cut_for: got a draft with length_to, allowed one whose lengths are given in cm. Its hem would be trimmed"),
    # stance, arms, what is worn
    ("[draft]", "[stance]\nstoop_cm = 40\n[draft]",
     "stance.stoop_cm: got 40, allowed -4 to 10 cm. If this is in millimetres, write 4.0."),
    ("[draft]", "[stance]\nstoop_deg = 4\n[draft]", "stance.stoop_deg: unknown key. Nearest known: stoop_cm."),
    ("[draft]", '[stance]\nshoulders = "squared"\n[draft]',
     'got "squared", allowed "usual", "square" or "sloping". Did you mean "square"?'),
    ("[draft]", '[arms]\nleft = "up"\n[draft]', 'arms.left: got "up", allowed "down", "forearm across"'),
    ("[draft]", "[worn_under]\nchest_cm = 25\n[draft]",
     "worn_under.chest_cm: got 25, allowed 0 to 5 cm. If this is in millimetres, write 2.5."),
    ("[draft]", '[worn_under]\nkind = "coat"\n[draft]',
     'worn_under.kind: got "coat", allowed "jacket" or "padded coat"'),
    # files
    (SCENE, "", "cloak.toml: got an empty file. `drape new FILE` writes a scene to start from."),
    (SCENE, "# only a note\n", "cloak.toml: got an empty file"),
    ("length_cm = 112.0", "length_cm = = 112.0",
     "cloak.toml, line 15: not TOML: invalid value, got \"length_cm = = 112.0\""),
    ("length_cm = 112.0", "length_cm = 112.0\nlength_cm = 3",
     "cloak.toml, line 16: not TOML: cannot overwrite a value"),
    ("length_cm = 112.0", f"length_cm = 1{'0' * 4500}", "not TOML"),
    (SCENE, "a = " + "[" * 4000, "not TOML"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "says"), REFUSED, ids=range(len(REFUSED)))
def test_refusals_say_where_what_and_what_to_try(shop: Path, old: str, new: str, says: str) -> None:
    line = complaint(shop, old, new)
    assert says in line
    assert "\n" not in line
    assert len(line) < 500
    assert line.startswith("cloak.toml")
    assert line[-1] in ".?"


def test_refusals_name_the_body_file(shop: Path) -> None:
    line = complaint(shop, "stature_cm = 166.0", "stature_cm = 1660", file="bearer.toml")
    assert (
        line == "bearer.toml, tape.stature_cm: got 1660, allowed 80 to 230 cm. If this is in millimetres, write 166.0."
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('sex = "woman"', 'sex = "female"', 'figure.sex: got "female", allowed'),
        ("[tape]", "[tapes]", "tapes: unknown key or table. Nearest known: tape."),
        ("stature_cm", "height_cm", "tape.height_cm: unknown key"),
    ],
)
def test_a_body_is_held_to_its_keys(shop: Path, old: str, new: str, says: str) -> None:
    assert says in complaint(shop, old, new, file="bearer.toml")


def test_a_body_without_measures_is_refused(tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text('[figure]\nsex = "man"\nsource = "none"\n', encoding="utf-8")
    with pytest.raises(SceneError, match="tape.stature_cm: missing, allowed 80 to 230 cm"):
        load_body(tmp_path / "b.toml")


def test_whatever_is_changed_in_a_shipped_file_is_taken_or_refused_in_a_line(tmp_path: Path) -> None:
    """More of these: `python tests/bench/fuzz.py`."""
    path, taken = tmp_path / "changed.toml", 0
    for kind, load in (("scene", load_scene), ("body", load_body)):
        texts = shipped_texts(shipped_folder(kind))
        for seed in range(60):
            source = random.Random(seed)
            path.write_text(mutated_text(source.choice(texts), source), encoding="utf-8", newline="")
            try:
                taken += bool(load(path).name)
            except SceneError as error:
                assert len(str(error)) < 700 and "\n" not in str(error)
    assert 0 < taken < 120


def test_a_missing_scene_lists_the_shipped_ones(tmp_path: Path) -> None:
    with pytest.raises(SceneError) as caught:
        load_scene("ferry-warden-rond")
    line = str(caught.value)
    assert 'got "ferry-warden-rond", no such file' in line
    assert all(f'"{name}"' in line for name in shipped_scenes())
    assert line.endswith('Did you mean "ferry-warden-round"?')
    with pytest.raises(SceneError, match="a folder"):
        load_scene(tmp_path)
    with pytest.raises(SceneError, match="printable"):
        load_scene("a\0b")


def test_a_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\r\n\xff\xfe")
    with pytest.raises(SceneError, match="picture.toml: got byte 0 that is not UTF-8 text"):
        load_scene(tmp_path / "picture.toml")
    (tmp_path / "long.toml").write_bytes(b"#" * 2_000_000)
    with pytest.raises(SceneError, match="got 2000000 bytes, allowed 200000"):
        load_scene(tmp_path / "long.toml")


def test_a_byte_order_mark_and_windows_lines_are_read(shop: Path) -> None:
    (shop / "cloak.toml").write_bytes(b"\xef\xbb\xbf" + SCENE.replace("\n", "\r\n").encode())
    assert load_scene(shop / "cloak.toml").style.length == 1.12


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(text=st.text(max_size=200) | st.sampled_from(SCENE.splitlines()).map(lambda line: SCENE.replace(line, "[", 1)))
def test_no_text_whatever_brings_anything_but_one_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "any.toml"
    path.write_text(text, encoding="utf-8", errors="replace")
    with pytest.raises(SceneError) as caught:
        load_scene(path)
    assert str(caught.value).isprintable()


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    key=st.sampled_from(
        [key for key, rule in SCENE_TABLES["draft"].keys.items() if key.endswith("_cm") and not rule.several]
    ),
    value=st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**12), 10**12) | st.floats(1, 50),
)
def test_a_length_is_taken_in_si_or_refused(shop: Path, key: str, value: float) -> None:
    """In range: the value over a hundred, nothing clamped. Out of range: the value is shown."""
    rest = "" if key in ("length_cm", "off_floor_cm") else "length_cm = 100.0\n"
    text = 'title = "t"\n[figure]\nbody = "bearer.toml"\n[cloth]\ncloth = "calico"\n[draft]\nneck = "round"\n'
    (shop / "one.toml").write_text(f"{text}{rest}{key} = {value!r}\n", encoding="utf-8")
    rule = SCENE_TABLES["draft"].keys[key]
    if rule.low <= value <= rule.high:  # type: ignore[union-attr]
        style = load_scene(shop / "one.toml").style
        assert getattr(style, key.removesuffix("_cm")) == value / 100.0
    else:
        with pytest.raises(SceneError, match=re.escape(f"got {value:.6g}, allowed")):
            load_scene(shop / "one.toml")


# --- what is shipped --------------------------------------------------------------------------


def test_shipped_scenes_and_bodies_load() -> None:
    assert {"ferry-warden-round", "ferry-warden-tailored"} <= set(shipped_scenes())
    for name in shipped_scenes():
        scene = load_scene(name)
        assert scene.name == name
        assert scene.expect, f"{name} must say what should happen"
    assert len(shipped_bodies()) >= 1
    for name in shipped_bodies():
        assert load_body(name).source


def test_the_two_ferry_wardens_differ_in_the_draft_alone() -> None:
    plain, tailored = load_scene("ferry-warden-round"), load_scene("ferry-warden-tailored")
    assert (plain.tape, plain.cloth, plain.edge_length) == (tailored.tape, tailored.cloth, tailored.edge_length)
    assert plain.style.length == tailored.style.length
    assert (plain.style.neck, tailored.style.neck) == ("round", "tailored")


# Ranges by class, from memory (order of magnitude): areal density [kg/m²], thickness [m], bending
# length [m], flexural rigidity [N·m], shear stiffness [N/m], extension at 98.07 N/m warp and weft.
CLASSES = {
    "light suiting": ((0.150, 0.200), (0.3e-3, 0.5e-3), (0.014, 0.018), (5e-6, 9e-6), (25, 50), (0.02, 0.05),
     (0.03, 0.07)),
    "flannel": ((0.300, 0.400), (0.8e-3, 1.5e-3), (0.018, 0.024), (20e-6, 45e-6), (35, 70), (0.03, 0.07), (0.04, 0.09)),
    "coating": ((0.400, 0.550), (1.5e-3, 2.5e-3), (0.021, 0.028), (40e-6, 110e-6), (50, 110), (0.03, 0.08),
     (0.04, 0.10)),
    "fulled broadcloth": ((0.400, 0.550), (1.5e-3, 2.5e-3), (0.021, 0.028), (40e-6, 110e-6), (50, 110), (0.03, 0.08),
     (0.04, 0.10)),
    "heavy melton": ((0.550, 0.800), (2e-3, 4e-3), (0.025, 0.035), (100e-6, 300e-6), (80, 200), (0.03, 0.08),
     (0.04, 0.10)),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_wool_presets_lie_within_their_class(name: str) -> None:
    """Rigidity of the cloth as a whole is the geometric mean of warp and weft (Peirce 1930)."""
    density, thickness, bending, rigidity, shear, warp, weft = CLASSES[name]
    cloth = load_cloth(name)
    overall = math.sqrt(cloth.bending_length_warp**3 * cloth.bending_length_weft**3)
    pull = 98.0665  # N/m, 100 gf/cm
    for value, (low, high) in [
        (cloth.areal_density, density),
        (cloth.thickness, thickness),
        (cloth.bending_length_warp, bending),
        (cloth.bending_length_weft, bending),
        (cloth.areal_density * STANDARD_GRAVITY * overall, rigidity),
        (cloth.shear_stiffness, shear),
        (pull / cloth.tensile_stiffness_warp, warp),
        (pull / cloth.tensile_stiffness_weft, weft),
    ]:
        assert low <= value <= high


@pytest.mark.parametrize("name", shipped_cloths())
def test_a_presets_rigidity_is_weight_times_bending_length_cubed(name: str) -> None:
    """Peirce 1930: B = w g c³; `drape cloths` prints B beside w and c, in µN·m, g/m² and cm."""
    (row,) = cloths_object([load_cloth(name)])["cloths"]
    for grain in ("warp", "weft"):
        c = row[f"bending_length_{grain}_cm"]
        assert row[f"rigidity_{grain}_un_m"] == pytest.approx(row["areal_density_g_m2"] * 9.80665e-3 * c**3, rel=1e-6)


@pytest.mark.parametrize("name", shipped_cloths())
def test_a_presets_friction_is_that_of_cloth(name: str) -> None:
    """From memory: wool on wool 0.3 to 0.5 moving, 0.4 to 0.7 at rest, napped up to 0.8; on linen less, no source."""
    cloth = load_cloth(name)
    assert 0.3 <= cloth.friction_on_cloth <= 0.8
    assert 0.25 <= cloth.friction_on_figure <= cloth.friction_on_cloth
    assert 0.0 < cloth.poisson_ratio <= 0.38  # Penava and others 2014, at second hand: 0.07 to 0.38


def test_calico_is_a_plain_cotton() -> None:
    """Penava and others 2014 (Fibres & Textiles in Eastern Europe), cotton, at second hand: 150.3 g/m²,
    0.318 mm, 0.243.
    """
    calico = load_cloth("calico")
    assert calico.areal_density == pytest.approx(0.1503, rel=0.01)
    assert calico.thickness == pytest.approx(0.318e-3, rel=0.01)
    assert calico.poisson_ratio == pytest.approx(0.243, abs=0.01)


def test_wet_wool_is_rougher_than_dry() -> None:
    """A wool fibre rubs harder wet than dry (one abstract at second hand); how much is an estimate."""
    dry, wet = load_cloth("heavy melton"), load_cloth("wet heavy melton")
    assert wet.friction_on_cloth > dry.friction_on_cloth
    assert wet.friction_on_figure > dry.friction_on_figure


def test_presets_are_the_eight_and_each_names_its_source() -> None:
    assert shipped_cloths() == (
        "light suiting", "flannel", "coating", "heavy melton", "fulled broadcloth", "calico", "wet heavy melton",
        "pile lining",
    )  # fmt: skip
    for name in shipped_cloths():
        cloth = load_cloth(name)
        assert cloth.name == name
        assert cloth.source.startswith(("from memory: ", "estimate, from memory: ")) or cloth.source.endswith(
            "the rest from memory"
        ), "every value has a source or the mark"


def test_wet_melton_is_the_dry_one_heavier_and_softer() -> None:
    dry, wet = load_cloth("heavy melton"), load_cloth("wet heavy melton")
    assert wet.areal_density == pytest.approx(1.6 * dry.areal_density)
    assert wet.rigidity_warp == pytest.approx(0.6 * dry.rigidity_warp, rel=0.05)
    assert wet.rigidity_weft == pytest.approx(0.6 * dry.rigidity_weft, rel=0.05)
    assert wet.shear_stiffness == pytest.approx(0.6 * dry.shear_stiffness)
    assert "estimate" in wet.source


def test_a_cloth_by_its_name_may_be_had_wet() -> None:
    dry, wet = load_cloth("calico"), load_cloth("calico", wet=True)
    assert wet.name == "calico, wet" and wet.areal_density > 1.2 * dry.areal_density


def test_a_cloth_may_be_changed_key_by_key() -> None:
    cloth = load_cloth("heavy melton", {"bending_length_warp_cm": 2.7})
    assert cloth.bending_length_warp == pytest.approx(0.027)
    assert cloth.bending_length_weft == load_cloth("heavy melton").bending_length_weft
    assert "changed here: bending_length_warp" in cloth.source
    with pytest.raises(SceneError, match="cloth.bending_length_warp_cm: got 27, allowed 0.5 to 8 cm"):
        load_cloth("heavy melton", {"bending_length_warp_cm": 27.0})


def test_twist_that_nobody_gave_is_estimated_and_said_to_be(twill: Path) -> None:
    """0.28 of the geometric mean of warp's and weft's rigidity, 90 g/m², 1.5 and 1.2 cm."""
    known, estimated = load_cloth("heavy melton"), load_cloth("twill.toml", beside=twill)
    assert known.twist_rigidity == pytest.approx(38e-6) and known.filled == ()
    assert estimated.twist_rigidity == pytest.approx(0.28 * 0.09 * 9.80665 * (0.015 * 0.012) ** 1.5)
    assert estimated.filled == ("twist_rigidity",)
    assert estimated.source.endswith("twist_rigidity estimated from the bending lengths")


def test_cloth_made_limper_or_lighter_twists_as_much_more_easily() -> None:
    known = load_cloth("heavy melton")
    limp = load_cloth("heavy melton", {"bending_length_warp_cm": 1.4, "areal_density_g_m2": 300})
    assert limp.twist_rigidity / known.twist_rigidity == pytest.approx(0.5 / 8**0.5)
    own = load_cloth("heavy melton", {"bending_length_warp_cm": 1.4, "twist_rigidity_un_m": 12.0})
    assert own.twist_rigidity == pytest.approx(12e-6)
    assert content_key(own) != content_key(limp), "a kept result of the one would be taken for the other's"


@pytest.mark.parametrize("twist", [0.9, 120.0])
def test_a_twist_rigidity_no_cloth_has_is_refused(twist: float) -> None:
    """A hundredth of √(B₁B₂) to the whole; that of heavy melton is 109 µN·m."""
    with pytest.raises(SceneError, match=f"cloth.twist_rigidity_un_m: got {twist:g}, allowed 1.09 to 109 µN·m"):
        load_cloth("heavy melton", {"twist_rigidity_un_m": twist})


def test_a_poisson_ratio_that_would_make_cloth_give_energy_away_is_refused() -> None:
    """ν² E_weft/E_warp < 1, from the determinant of the plane-stress compliance."""
    with pytest.raises(SceneError, match="poisson_ratio: got 0.5, allowed 0 to below 0.200"):
        load_cloth("heavy melton", {"poisson_ratio": 0.5, "tensile_stiffness_weft_n_m": 50_000})
    assert load_cloth("heavy melton", {"poisson_ratio": 0.19, "tensile_stiffness_weft_n_m": 50_000})
    with pytest.raises(SceneError, match="poisson_ratio: got 0.5, allowed 0 to below 0.382 at these bending lengths"):
        load_cloth("heavy melton", {"poisson_ratio": 0.5, "bending_length_weft_cm": 2.8 * 1.9})


# --- cloth files, linings ---------------------------------------------------------------------

CLOTH_FILE = """
[cloth]
name = "toll-house twill"
areal_density_g_m2 = 90.0
thickness_mm = 0.2
bending_length_warp_cm = 1.5
bending_length_weft_cm = 1.2
tensile_stiffness_warp_n_m = 5000.0
tensile_stiffness_weft_n_m = 3000.0
shear_stiffness_n_m = 20.0
poisson_ratio = 0.3
friction_on_cloth = 0.25
friction_on_figure = 0.2
source = "invented for the Saltmere pageant"
"""


@pytest.fixture
def twill(shop: Path) -> Path:
    (shop / "twill.toml").write_text(CLOTH_FILE, encoding="utf-8")
    return shop


def test_a_cloth_may_be_named_by_its_file_beside_the_scene(twill: Path) -> None:
    text = SCENE.replace('cloth = "heavy melton"', 'cloth = "twill.toml"\nthickness_mm = 0.3')
    (twill / "cloak.toml").write_text(text, encoding="utf-8")
    scene = load_scene(twill / "cloak.toml")
    assert scene.layers == (scene.cloth.name,) == ("toll-house twill",)
    assert (scene.cloth.areal_density, scene.cloth.thickness) == (0.09, 0.0003)
    assert scene.cloth.source.startswith("invented for the Saltmere pageant; changed here: thickness")
    alone = load_cloth(str(twill / "twill.toml"))
    assert alone == load_cloth("twill.toml", beside=twill)
    assert alone.thickness == 0.0002


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("poisson_ratio = 0.3", "", "twill.toml, cloth.poisson_ratio: missing, allowed 0 to 0.5"),
        ("thickness_mm = 0.2", "thickness_mm = 200", "twill.toml, cloth.thickness_mm: got 200, allowed 0.1 to 10 mm"),
        ("thickness_mm", "thicknes_mm", "twill.toml, cloth.thicknes_mm: unknown key. Nearest known: thickness_mm."),
        ("[cloth]", "[cloths]", "twill.toml, cloths: unknown key or table. Nearest known: cloth."),
        ('"toll-house twill"', '"flannel"', 'twill.toml, cloth.name: got "flannel", the name of a shipped cloth'),
        ("poisson_ratio = 0.3", "poisson_ratio = 0.5\ntensile_stiffness_weft_n_m = 30000.0", "not TOML"),
    ],
)
def test_a_cloth_file_is_held_to_its_keys(twill: Path, old: str, new: str, says: str) -> None:
    text = SCENE.replace("heavy melton", "twill.toml")
    (twill / "cloak.toml").write_text(text, encoding="utf-8")
    assert says in complaint(twill, old, new, file="twill.toml")


def test_layers_come_out_as_one_cloth_with_the_linings_colour_and_friction(twill: Path) -> None:
    lined = '[interlining]\ncloth = "calico"\n[lining]\ncloth = "twill.toml"\ncolour = "#8C3B3B"\n[draft]'
    (twill / "cloak.toml").write_text(SCENE.replace("[draft]", lined), encoding="utf-8")
    scene = load_scene(twill / "cloak.toml")
    assert scene.layers == ("heavy melton", "calico", "toll-house twill")
    assert scene.cloth.areal_density == pytest.approx(0.6 + 0.15 + 0.09)
    assert scene.cloth.friction_on_figure == 0.2
    assert scene.cloth.friction_on_cloth == load_cloth("heavy melton").friction_on_cloth
    assert scene.colours["inside"] == "#8c3b3b"
    assert scene.colours["outside"] == "#1a2b3c"


def test_how_it_is_cut_comes_out_in_si_and_has_defaults(shop: Path) -> None:
    scene = shop / "cloak.toml"
    text = scene.read_text(encoding="utf-8")
    plain = load_scene(scene).cutting
    assert (plain.bolt.width, plain.bolt.nap, plain.bolt.fold, plain.grain) == (1.4, False, "single", None)
    scene.write_text(
        text + "\n[piecing]\nwidth_cm = 70.0\ngrain_deg = 45.0\n\n[allowances]\nseam_cm = 2.0\nhem_cm = 3.0\n\n[lay]\n"
        'nap = "one way"\n'
        + "shrinkage_percent = 4.0\nprice_per_metre = 38.0\n\n[[flaw]]\nalong_cm = 120.0\nacross_cm = 30.0\n"
        "radius_cm = 3.0\n",
        encoding="utf-8",
    )
    plan = load_scene(scene).cutting
    assert (plan.bolt.width, plan.bolt.nap, plan.bolt.shrinkage, plan.bolt.price) == pytest.approx(
        (0.7, True, 0.04, 38.0)
    )
    assert plan.grain == pytest.approx(math.pi / 4)
    assert plan.seam_allowance == pytest.approx(0.02)
    assert load_scene(scene).style.hem_allowance == pytest.approx(0.03)
    (flaw,) = plan.bolt.flaws
    assert (flaw.along, flaw.across, flaw.radius) == pytest.approx((1.2, 0.3, 0.03))


# --- limits of one's own ------------------------------------------------------------------------


def test_a_scene_may_set_limits_of_its_own_and_they_stay_in_their_unit(tmp_path: Path) -> None:
    path = tmp_path / "clerk.toml"
    path.write_text(
        STARTER_SCENE + "\n[verdict]\ngap_cm = 0.8\ncrowding_percent = 12.5\nfallen_cm = -1.3\n", encoding="utf-8"
    )
    assert dict(load_scene(path).limits) == {"gap_cm": 0.8, "crowding_percent": 12.5, "fallen_cm": -1.3}
    assert dict(load_scene("ferry-warden-round").limits) == {}


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("gape_cm = 1.0", "Nearest known: gap_cm"),
        ("gap = 1.0", "Nearest known: gap_cm"),
        ("gap_cm = 90.0", "got 90, allowed 0.1 to 20 cm"),
        ("fallen_cm = 2.0", "allowed -20 to -0.1 cm"),
        ('pull_n = "weak"', "allowed a number"),
    ],
)
def test_a_limit_that_cannot_be_is_refused(tmp_path: Path, line: str, says: str) -> None:
    path = tmp_path / "clerk.toml"
    path.write_text(f"{STARTER_SCENE}\n[verdict]\n{line}\n", encoding="utf-8")
    with pytest.raises(SceneError, match=f"verdict.*{re.escape(says)}"):
        load_scene(path)


def test_a_cloths_old_key_is_read_with_one_note_and_is_the_same_scene(shop: Path) -> None:
    path = shop / "cloak.toml"
    text = path.read_text(encoding="utf-8") + '\n[lining]\ncloth = "light suiting"\n'
    path.write_text(text, encoding="utf-8")
    new = load_scene(path)
    path.write_text(text.replace('cloth = "', 'preset = "'), encoding="utf-8")
    with pytest.warns(OldKeyWarning) as told:
        assert load_scene(path) == new
    assert [str(one.message) for one in told] == [f"{path}: preset is now called cloth. Write cloth = ... instead."]


def test_a_cloths_old_and_new_key_together_are_refused(shop: Path) -> None:
    line = complaint(shop, 'cloth = "heavy melton"', 'cloth = "heavy melton"\npreset = "coating"')
    assert "cloth.preset: got cloth as well, of which it is the old name. Leave preset out." in line


def test_wet_is_said_in_the_scene_or_when_it_is_loaded_and_its_values_stand_beside_the_dry(tmp_path):
    text = (shipped_folder("scene") / "ferry-warden-round.toml").read_text(encoding="utf-8")
    dry, wet = load_scene("ferry-warden-round"), load_scene("ferry-warden-round", wet=True)
    assert (dry.is_wet, wet.is_wet, wet.name) == (False, True, "ferry-warden-round-wet")
    assert wet.cloth.areal_density == pytest.approx(1.6 * dry.cloth.areal_density)
    assert wet.layers == dry.layers and wet.cloth.filled == ()  # heavy melton has wet values of its own
    own = tmp_path / "own.toml"
    own.write_text(text.replace("[cloth]\n", "[cloth]\nwet = true\nwater_percent = 100\n"), encoding="utf-8")
    scene = load_scene(own)
    assert scene.is_wet and scene.name == "own"
    assert scene.cloth.areal_density == pytest.approx(2.0 * dry.cloth.areal_density)
    assert load_scene(own, wet=False).cloth == dry.cloth


def test_a_hem_that_is_trimmed_is_not_trimmed_wet():
    with pytest.raises(SceneError, match=r"cloth.wet: got a draft with length_to.*cut dry: write length_cm"):
        load_scene("toll-house-clerk-two-darts", wet=True)
