"""Every command as a user types it: exit codes, what stands on stdout, what is saved."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
import xml.etree.ElementTree as xml
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from turns import COMPILING, all_compiled, alone
from typed import Done, begun, drape, drape_in_a_process, ended

from drape.command import main as cli
from drape.errors import PictureError
from drape.fitting.scene import load_scene, shipped_bodies, shipped_cloths, shipped_folder, shipped_scenes
from drape.fitting.sit import draft_of, figure_cut_for
from drape.fitting.starter_scene import STARTER_SCENE
from drape.reading.result import load_fitting
from drape.reading.table import KEY_ORDER

COARSE = ("--edge-length-cm", "6", "--no-pictures")
Run = tuple[Path, Done]


@pytest.fixture(scope="module")
def coarse_pair(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Run:
    """README's first command on coarse triangles. It compiles what others then find compiled, and holds the lock so
    long; while it settles and draws, another worker goes on."""
    where = tmp_path_factory.mktemp("compare")
    typed = ("compare", "ferry-warden-round", "ferry-warden-tailored", "--out", "both", "--jobs", "2", "--fresh")
    with alone(shared / COMPILING):
        running = begun(*typed, *COARSE[:2], where=where)
        while running.poll() is None and not all_compiled():
            time.sleep(0.1)
    return where, ended(running)


@pytest.fixture(scope="module")
def coarse_sit(tmp_path_factory: pytest.TempPathFactory) -> Run:
    """One coarse run that several tests look at."""
    where = tmp_path_factory.mktemp("sit")
    typed = ("sit", "ferry-warden-tailored", "--json", "--seed", "3", "--seat-height-cm", "42", *COARSE)
    return where, drape(*typed, where=where)


@pytest.fixture
def hasty(tmp_path: Path) -> Path:
    """A folder with a scene that is allowed far too few steps."""
    short = "[settle]\nmax_steps = 5\nedge_length_cm = 6.0"
    scene = STARTER_SCENE.replace("[settle]\nedge_length_cm = 1.5", short)
    assert short in scene
    (tmp_path / "hasty.toml").write_text(scene, encoding="utf-8")
    return tmp_path


# --- settling ---------------------------------------------------------------------------------


def test_compare_saves_each_and_their_differences(coarse_pair: Run) -> None:
    where, done = coarse_pair
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stderr
    assert "difference" in done.stdout and "--all" in done.stdout
    out = where / "both"
    both = json.loads((out / "compare.json").read_text(encoding="utf-8"))
    assert list(both) == ["conclusion", "drafts", "differences", "points"]
    first, second = both["drafts"]
    assert both["conclusion"]["better"] == second["scene"] and list(first)[0] == "conclusion"
    assert set(both["conclusion"]["sits"]) == {first["scene"], second["scene"]}
    assert [first["scene"], second["scene"]] == ["ferry-warden-round", "ferry-warden-tailored"]
    wanted = second["neck"]["gap_back_cm"] - first["neck"]["gap_back_cm"]
    assert both["differences"]["neck"]["gap_back_cm"] == pytest.approx(wanted, abs=1e-6)
    whole, (begun, *_) = (out / "compare.txt").read_text(encoding="utf-8"), done.stdout.splitlines()
    assert whole.splitlines()[0] == begun and begun in both["conclusion"]["text"]
    assert "Neck gap:" in whole and "Neck gap:" not in done.stdout and len(done.stdout) < 0.6 * len(whole)
    for name in ("ferry-warden-round", "ferry-warden-tailored"):
        readings = json.loads((out / f"{name}.json").read_text(encoding="utf-8"))
        assert readings["scene"] == name and readings["settled"] is True
    with Image.open(out / "compare.png") as sheet:
        low, high = sheet.convert("L").getextrema()
    assert sheet.width == 2400 and high - low > 100


def test_sit_prints_one_json_object_and_saves_the_rest(coarse_sit: Run) -> None:
    where, done = coarse_sit
    assert done.returncode == 0, done.stderr
    readings = json.loads(done.stdout)
    assert set(KEY_ORDER) - {"hem", "collar", "dags"} <= set(readings)  # those only where the draft has them
    assert readings["scene"] == "ferry-warden-tailored"
    assert readings["settled"] is True
    seated = readings["seated"]
    assert seated["seat_height_cm"] == 42.0
    assert seated["back_cm"] == pytest.approx(readings["fall"]["back_cm"] - seated["lowered_cm"], abs=1e-5)
    assert readings["edge_length_cm"] == pytest.approx(6.0)
    assert set(readings["seconds"]) == {"figure", "draft", "mesh", "settle", "readings", "pictures"}
    out = where / "ferry-warden-tailored-fitting"
    names = {f"ferry-warden-tailored.{ending}" for ending in ("json", "npz", "txt", "svg")}
    assert {path.name for path in out.iterdir()} == names | {"made-from.json"}
    assert json.loads((out / "ferry-warden-tailored.json").read_text(encoding="utf-8")) == readings
    assert "Neck gap" in (out / "ferry-warden-tailored.txt").read_text(encoding="utf-8")
    assert xml.parse(out / "ferry-warden-tailored.svg").getroot().tag.endswith("svg")


def test_progress_without_a_terminal_is_plain_lines_on_stderr(coarse_sit: Run) -> None:
    lines = coarse_sit[1].stderr.splitlines()
    assert "\r" not in coarse_sit[1].stderr and "\x1b" not in coarse_sit[1].stderr
    drawn = [line for line in lines if line.startswith("[")]
    percents = [int(re.search(r"(\d+) %", line)[1]) for line in drawn]
    assert percents == sorted(percents) and percents[-1] == 100
    assert any(re.search(r"settling, \d+ points", line) for line in drawn)
    assert lines[-1] == f"Saved in ferry-warden-tailored-fitting{os.sep}"


@pytest.mark.long
def test_starts_give_the_same_however_many_go_on_at_a_time(tmp_path: Path) -> None:
    found = []
    for jobs in ("1", "2"):
        (tmp_path / jobs).mkdir()
        typed = ("sit", "ferry-warden-tailored", "--starts", "3", "--jobs", jobs, "--fresh", "--json")
        done = drape(*typed, *COARSE, where=tmp_path / jobs)
        assert done.returncode == 0, done.stderr
        found.append(json.loads(done.stdout))
        assert "start 3" in done.stderr
    assert [one.pop("seconds") for one in found] and found[0] == found[1]
    assert found[0]["starts"]["seeds"] == [0, 1, 2] and found[0]["conclusion"]["starts"] == {found[0]["scene"]: 3}
    table = (tmp_path / "1" / "ferry-warden-tailored-fitting" / "ferry-warden-tailored.txt").read_text(encoding="utf-8")
    assert "means of 3 starts" in " ".join(table.split()) and "±" in table


@pytest.mark.long
def test_sure_gives_every_reading_a_spread_of_its_own(coarse_sit: Run, tmp_path: Path) -> None:
    """Three runs: the first is the very one without --sure; readings are means, each with its ±."""
    typed = ("sit", "ferry-warden-tailored", "--json", "--seed", "3", *COARSE)
    done = drape(*typed, "--sure", "3", where=tmp_path)
    assert done.returncode == 0, done.stderr
    sure, once = json.loads(done.stdout), json.loads(coarse_sit[1].stdout)
    assert (sure["spread"]["from"], sure["spread"]["members"]) == ("members", 3)
    assert (once["spread"]["from"], once["spread"]["members"]) == ("one run", 1)
    assert sure["starts"]["shown_seed"] == 3 and sure["vertices"] == once["vertices"]
    for group, key in (("fall", "mean_cm"), ("neck", "ride_front_cm"), ("weight", "cloth_kg")):
        assert f"{key}_spread" not in once[group]
        assert sure[group][f"{key}_spread"] > 0
    assert "run 2 of 3: " in done.stderr
    table = (tmp_path / "ferry-warden-tailored-fitting" / "ferry-warden-tailored.txt").read_text(encoding="utf-8")
    assert "±" in table and "of 3 runs" in " ".join(table.split()) and max(map(len, table.splitlines())) <= 80


@pytest.mark.long
def test_mend_writes_a_new_scene_beside_the_old_and_says_what_it_did(tmp_path: Path) -> None:
    """The round neck, coarse, few tries: what is reported is the new scene settled as `sit` settles it."""
    scene = shipped_folder("scene") / "ferry-warden-round.toml"
    mine, taken = tmp_path / "mine.toml", tmp_path / "mine-mended.toml"
    mine.write_bytes(scene.read_bytes())
    taken.write_text("not to be touched", encoding="utf-8")
    done = drape("mend", "mine.toml", "--tries", "2", "--json", *COARSE, where=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["mended"] is True and found["tried"] == 2 and found["new_scene"] == "mine-mended-2.toml"
    assert mine.read_bytes() == scene.read_bytes() and taken.read_text(encoding="utf-8") == "not to be touched"
    for side in ("left", "right"):
        before, after = (found[key][f"shoulder_{side}"]["stand_off_mean_cm"] for key in ("before", "after"))
        assert after < before
    assert found["after"]["crowding"]["max_percent"] < found["before"]["crowding"]["max_percent"]
    text = (tmp_path / "mine-mend" / "mend.txt").read_text(encoding="utf-8")
    assert "Changes" in text and "mine-mended-2.toml" in text and max(map(len, text.splitlines())) <= 80
    assert "try 1 of 2, with dart and shoulder cuts: kept" in done.stderr
    made = {path.name: path.read_bytes() for path in tmp_path.glob("mine*.toml")}
    rerun = drape("mend", "mine.toml", "--tries", "2", "--json", *COARSE, where=tmp_path)
    assert json.loads(rerun.stdout)["new_scene"] == "mine-mended-2.toml", "what it wrote before is the same"
    assert {path.name: path.read_bytes() for path in tmp_path.glob("mine*.toml")} == made
    again = drape("sit", "mine-mended-2.toml", "--json", *COARSE, where=tmp_path)
    assert again.returncode == 0, again.stderr
    assert "kept from an earlier run" in again.stderr, "the file says the very draft that was settled"
    assert json.loads(again.stdout)["shoulder_left"] == found["after"]["shoulder_left"]


def test_not_settled_is_code_three_and_everything_is_stamped(hasty: Path) -> None:
    done = drape("sit", "hasty.toml", "--json", "--no-pictures", where=hasty)
    assert done.returncode == 3, done.stderr
    readings = json.loads(done.stdout)
    assert readings["settled"] is False
    assert readings["residual"] > 0
    assert "not settled" in done.stderr.splitlines()[-1]
    out = hasty / "hasty-fitting"
    assert "*** NOT SETTLED ***" in (out / "hasty.txt").read_text(encoding="utf-8")
    assert json.loads((out / "hasty.json").read_text(encoding="utf-8"))["settled"] is False


@pytest.fixture
def settled_already(coarse_sit: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> str:
    """In an empty folder, with `sit_afresh` giving back the coarse run instead of settling it again."""
    scene = load_scene("ferry-warden-tailored")
    saved = load_fitting(coarse_sit[0] / "ferry-warden-tailored-fitting" / "ferry-warden-tailored.npz")
    fitting = replace(saved, draft=draft_of(scene, figure_cut_for(scene)))  # advice is worked out from it
    monkeypatch.setattr("drape.fitting.sit.sit_afresh", lambda *_, **__: fitting)
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "ferry-warden-tailored.png").write_bytes(b"an older picture")
    return "ferry-warden-tailored"


def test_a_picture_that_fails_loses_no_results(
    settled_already: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The numbers are saved, an older picture is not left beside them, and the code says so."""

    def no_driver(*_: Any, **__: Any) -> None:
        raise PictureError("picture: the drawing process stopped (signal 11); the results are saved.")

    monkeypatch.setattr("drape.drawing_process.draw_in_child", no_driver)
    code = cli.main(["sit", settled_already, "--out", "kept", "--json"])
    shown = capsys.readouterr()
    assert code == 1
    assert json.loads(shown.out)["scene"] == settled_already
    assert shown.err.splitlines()[-1].startswith("picture: the drawing process stopped")
    assert json.loads(Path(f"kept/{settled_already}.json").read_text(encoding="utf-8"))["settled"] is True
    assert not Path(f"kept/{settled_already}.png").exists()


@pytest.mark.long
def test_a_second_sit_is_kept_whole_and_fresh_settles_anew(coarse_sit: Run, tmp_path: Path) -> None:
    """Same bytes as the run before, under another title too; `--fresh` gives the same but for the seconds."""
    where, first = coarse_sit
    typed = ("sit", "ferry-warden-tailored", "--json", "--seed", "3", "--seat-height-cm", "42", *COARSE, "--out")
    second = drape(*typed, "second", where=tmp_path)
    assert second.returncode == 0, second.stderr
    assert "kept from an earlier run" in second.stderr and "settle" not in second.stderr.replace("Settle it", "")
    assert "kept from an earlier run" not in first.stderr
    assert second.stdout == first.stdout
    for path in (where / "ferry-warden-tailored-fitting").iterdir():
        assert (tmp_path / "second" / path.name).read_bytes() == path.read_bytes()
    fresh = drape(*typed, "fresh", "--fresh", where=tmp_path)
    assert fresh.returncode == 0 and "kept from an earlier run" not in fresh.stderr
    anew, kept = json.loads(fresh.stdout), json.loads(first.stdout)
    assert anew.pop("seconds") != kept.pop("seconds")
    assert anew == kept
    saved = [load_fitting(tmp_path / name / "ferry-warden-tailored.npz") for name in ("second", "fresh")]
    assert saved[0].worn.tobytes() == saved[1].worn.tobytes()


@pytest.mark.long
def test_a_sheet_is_drawn_after_the_numbers_and_once(
    settled_already: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["sit", settled_already, "--out", "kept"]) == 0
    drawn = Path(f"kept/{settled_already}.png").read_bytes()
    with Image.open(f"kept/{settled_already}.png") as picture:
        extrema = picture.convert("L").getextrema()
    assert extrema[1] - extrema[0] > 100
    readings = json.loads(Path(f"kept/{settled_already}.json").read_text(encoding="utf-8"))
    assert readings["seconds"]["pictures"] > 0

    def no_driver(*_: Any, **__: Any) -> None:
        raise PictureError("picture: drawn twice")

    monkeypatch.setattr("drape.drawing_process.draw_in_child", no_driver)
    assert cli.main(["sit", settled_already, "--out", "again"]) == 0
    assert "drawing the pictures" in capsys.readouterr().err
    assert Path(f"again/{settled_already}.png").read_bytes() == drawn


# --- the rest ---------------------------------------------------------------------------------


def test_draft_draws_and_lists_dimensions(tmp_path: Path) -> None:
    done = drape("draft", "ferry-warden-tailored", "--json", where=tmp_path)
    assert done.returncode == 0, done.stderr
    dimensions = json.loads(done.stdout)
    assert dimensions["scene"] == "ferry-warden-tailored"
    length = load_scene("ferry-warden-tailored").style.length
    hem = dimensions["back_neck_depth_cm"] + 100 * length
    assert dimensions["hem_radius_cm"] == pytest.approx(hem, abs=0.01)
    svg = tmp_path / "ferry-warden-tailored-draft" / "ferry-warden-tailored.svg"
    assert xml.parse(svg).getroot().tag.endswith("svg")
    assert xml.parse(svg.with_name("ferry-warden-tailored-chalk.svg")).getroot().tag.endswith("svg")
    table = drape("draft", "ferry-warden-tailored", where=tmp_path)
    assert "hem radius [cm]" in table.stdout


def test_lists_name_everything_shipped(tmp_path: Path) -> None:
    bodies = json.loads(drape("bodies", "--json", where=tmp_path).stdout)["bodies"]
    assert [body["body"] for body in bodies] == list(shipped_bodies())
    cloths = json.loads(drape("cloths", "--json", where=tmp_path).stdout)["cloths"]
    assert [cloth["cloth"] for cloth in cloths] == list(shipped_cloths())
    melton = next(cloth for cloth in cloths if cloth["cloth"] == "heavy melton")
    assert (melton["areal_density_g_m2"], melton["thickness_mm"], melton["bending_length_warp_cm"]) == (600.0, 3.0, 2.8)
    scenes = json.loads(drape("scenes", "--json", where=tmp_path).stdout)["scenes"]
    assert [scene["scene"] for scene in scenes] == list(shipped_scenes())
    assert [(scene["title"], scene["body"]) for scene in scenes if scene["scene"] == "ferry-warden-round"] == [
        ("Ferry warden's cloak, round neck", "Ferry warden")
    ]
    for command, names in (("bodies", shipped_bodies()), ("cloths", shipped_cloths()), ("scenes", shipped_scenes())):
        text = drape(command, where=tmp_path)
        assert text.returncode == 0
        assert [name for name in names if name not in text.stdout] == []
        assert max(map(len, text.stdout.splitlines())) <= 82


def test_new_writes_a_scene_that_loads_and_never_overwrites(tmp_path: Path) -> None:
    done = drape("new", "mine.toml", where=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""
    scene = load_scene(tmp_path / "mine.toml")
    assert scene.style.neck == "tailored"
    text = (tmp_path / "mine.toml").read_text(encoding="utf-8")
    again = drape("new", "mine.toml", where=tmp_path)
    assert again.returncode == 2
    assert "mine.toml, which exists" in again.stderr
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == text
    assert drape("new", "nowhere/mine.toml", where=tmp_path).returncode == 2


INSTEAD = {  # notes of the new scene that stand in place of other lines
    "neck_ease_cm": (),
    "length_to": ("length_cm",),
    "off_floor_cm": ("length_cm",),
    "level": (),
    "neck_along_cm": (),
    "neck_up_cm": (),
    "hem_along_cm": ("length_cm",),
    "hem_up_cm": ("length_cm",),
    "first_edge_along_cm": (),
    "first_edge_aside_cm": (),
    "fastened_to": (),
}


@pytest.mark.long
def test_every_note_in_a_new_scene_can_be_uncommented(tmp_path: Path) -> None:
    """The commented keys are real ones, and together they make a draft; those that stand for others do so alone."""
    lines = STARTER_SCENE.splitlines()
    key_of = {line: line.removeprefix("# ").split(" =")[0] for line in lines}
    notes = [line for line in lines if re.match(r"# (\[|.* = )", line)]
    assert len(notes) >= 25
    assert set(INSTEAD) <= {key_of[line] for line in notes}

    def opened(name: str, wanted: set[str], gone: tuple[str, ...] = ()) -> list[str]:
        kept = [line.removeprefix("# ") if line in notes and key_of[line] in wanted else line for line in lines]
        text = "\n".join(line for line in kept if line.split(" =")[0] not in gone)
        if "neck_along_cm" in wanted:
            text = text.replace('neck = "tailored"', 'neck = "drawn"')
        (tmp_path / name).write_text(text, encoding="utf-8")
        return ["draft", name, "--json", "--estimate"]

    together = {key_of[line] for line in notes} - set(INSTEAD) - {"hem_cm"}  # a dagged hem is not turned in
    done = drape(*opened("all.toml", together), where=tmp_path)
    assert done.returncode == 0, done.stderr
    dimensions = json.loads(done.stdout)
    assert dimensions["neck_width_cm"] == pytest.approx(15.5)
    assert dimensions["dart_intake_cm"] == pytest.approx(9.5)
    assert dimensions["word"] == "cloak"
    scene = load_scene(tmp_path / "all.toml")
    assert scene.layers == ("heavy melton", "calico", "light suiting")
    assert scene.colours["inside"] == "#8c3b3b"
    for key, gone in INSTEAD.items():
        drawn = re.match(r"(.*)_(along|up|aside)_cm", key)  # through points, whose two rows stand together
        wanted = {other for other in INSTEAD if drawn and other.startswith(f"{drawn[1]}_")} - {"neck_ease_cm"} or {key}
        tried = drape(*opened(f"{key}.toml", wanted, gone), where=tmp_path)
        assert tried.returncode == 0, tried.stderr


def test_cloth_works_out_a_file_that_a_scene_can_name(tmp_path: Path) -> None:
    """`new --kind cloth`, the examples taken up, `cloth`, and its cloth in a scene and back."""
    done = drape("new", "grey.toml", "--kind", "cloth", where=tmp_path)
    assert done.returncode == 0, done.stderr
    assert xml.parse(tmp_path / "grey.svg").getroot().tag.endswith("svg")
    blank = (tmp_path / "grey.toml").read_text(encoding="utf-8")
    assert "drape cloth grey.toml" in blank and "grey.svg" in blank
    empty = drape("cloth", "grey.toml", where=tmp_path)
    assert (empty.returncode, empty.stdout) == (2, "")
    assert empty.stderr.startswith("grey.toml, square.side_cm: missing, allowed 4 to 200 cm.")
    lines = [line.removeprefix("# ") if " = " in line else line for line in blank.splitlines()]
    (tmp_path / "grey.toml").write_text("\n".join(lines), encoding="utf-8")

    done = drape("cloth", "grey.toml", "--json", where=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["areal_density_g_m2"] == pytest.approx(600.0)
    assert found["uncertainty"]["areal_density_g_m2"] == pytest.approx(26.0)
    assert found["filled"] == ["poisson_ratio"]
    out = tmp_path / "grey-cloth"
    assert {path.name for path in out.iterdir()} == {
        f"grey-cloth.{ending}" for ending in ("toml", "txt", "json", "svg")
    }
    assert json.loads((out / "grey-cloth.json").read_text(encoding="utf-8")) == found
    assert 'cloth = "grey-cloth/grey-cloth.toml"' in done.stderr
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    table = drape("cloth", "grey.toml", where=tmp_path)
    assert table.stdout == (out / "grey-cloth.txt").read_text(encoding="utf-8")
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before

    scene = STARTER_SCENE.replace('"heavy melton"', '"grey-cloth/grey-cloth.toml"')
    (tmp_path / "mine.toml").write_text(scene, encoding="utf-8")
    assert load_scene(tmp_path / "mine.toml").cloth.name == "grey melton, second bolt"


@pytest.mark.parametrize("taken", ["grey.toml", "grey.svg"])
def test_new_overwrites_neither_readings_nor_card(tmp_path: Path, taken: str) -> None:
    (tmp_path / taken).write_text("mine", encoding="utf-8")
    done = drape("new", "grey.toml", "--kind", "cloth", where=tmp_path)
    assert done.returncode == 2
    assert f"{taken}, which exists" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == [taken]
    assert (tmp_path / taken).read_text(encoding="utf-8") == "mine"


@pytest.mark.long
def test_a_lined_cloak_weighs_what_its_layers_do(tmp_path: Path) -> None:
    """Mass = (w outside + w lining) × the draft's area; the residual is that of a settled cloak."""
    scene = STARTER_SCENE.replace("[draft]\n", '[lining]\ncloth = "light suiting"\n\n[draft]\n')
    (tmp_path / "lined.toml").write_text(scene, encoding="utf-8")
    done = drape("sit", "lined.toml", "--json", *COARSE, where=tmp_path)
    assert done.returncode == 0, done.stderr
    readings = json.loads(done.stdout)
    area = json.loads(drape("draft", "lined.toml", "--json", where=tmp_path).stdout)["area_m2"]
    assert readings["settled"] is True
    assert readings["weight"]["cloth_kg"] == pytest.approx((0.6 + 0.175) * area, rel=2e-3)
    assert "naked flame" not in (tmp_path / "lined-fitting" / "lined.txt").read_text(encoding="utf-8")


def test_the_old_key_of_a_cloth_is_noted_once_on_stderr(tmp_path: Path) -> None:
    text = STARTER_SCENE.replace('\ncloth = "', '\npreset = "').replace(
        "[draft]\n", '[lining]\npreset = "calico"\n\n[draft]\n'
    )
    (tmp_path / "old.toml").write_text(text, encoding="utf-8")
    done = drape("draft", "old.toml", where=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("preset") == 1
    assert "old.toml: preset is now called cloth. Write cloth = ... instead.\n" in done.stderr


WRONG = [
    ([], "no command given"),
    (["sti", "x"], "got 'sti', allowed"),
    (["sit"], "required: SCENE"),
    (["sit", "ferry-warden-round", "--qualty", "quick"], "unrecognized arguments: --qualty"),
    (["sit", "ferry-warden-round", "--quality", "best"], "got 'best', allowed"),
    (["sit", "ferry-warden-round", "--quality", "quick", "--edge-length-cm", "3"], "not allowed with"),
    (["sit", "ferry-warden-round", "--edge-length-cm", "wide"], "got 'wide', allowed a number"),
    (["sit", "ferry-warden-round", "--edge-length-cm", "0.02"],
     "got 0.02, allowed 0.5 to 6 cm. If this is in metres, write 2.0."),
    (["sit", "ferry-warden-round", "--edge-length-cm", "nan"], "got nan, allowed a finite number"),
    (["sit", "ferry-warden-round", "--seed", "-1"], "got '-1', allowed a whole number"),
    (["sit", "nobody"], 'got "nobody", no such file'),
    (["sit", "ferry-warden-round", "--out", "taken"], "--out: got taken, cannot be written"),
    (["sit", "ferry-warden-round", "--seat-height-cm", "4"],
     "--seat-height-cm: got 4, allowed 20 to 80. Measure the seat"),
    (["compare", "ferry-warden-round"], "got one scene, allowed two to 6. Name another."),
    (["compare", *["ferry-warden-round"] * 7], "got 7 drafts, allowed two to 6. Name fewer."),
    (["compare", "ferry-warden-round", "ferry-warden-tailored", "--bodies", "woman-50"],
     "got 2 scenes with --bodies, allowed one"),
    (["sit", "ferry-warden-round", "--sure", "1"], "got '1', allowed a whole number from 2 to 20"),
    (["mend", "ferry-warden-round", "--tries", "none"], "got 'none', allowed a whole number from 1 to 200"),
    (["mend", "nobody"], 'got "nobody", no such file'),
    (["draft", "nobody.toml"], 'got "nobody.toml", no such file'),
    (["sit", "ferry-warden-round", "--edge-length-cm", "2,5"], "got '2,5', allowed a number. Write a point: 2.5."),
    (["sit", "lamp-bearer"],
     'got "lamp-bearer", a shipped body, allowed a scene. `drape measure lamp-bearer` measures it;'),
    (["compare", "ferry-warden-round", "--bodies", "lamp-bearer-left"],
     'got "lamp-bearer-left", a shipped scene, allowed a body.'),
    (["new", "x.toml", "--body", "nobody"], 'body: got "nobody", no such file'),
    (["new", "x.toml", "--kind", "cloth", "--body", "man-5"],
     "got --body with --kind cloth, allowed with a scene only"),
    (["new", "x.svg", "--kind", "body"], "got x.svg, which is the card's own name"),
    (["new"], "required: FILE"),
    (["new", "x.toml", "--kind", "hat"], "got 'hat', allowed"),
    (["new", "x.svg", "--kind", "cloth"], "got x.svg, which is the card's own name"),
    (["new", "nowhere/x.toml", "--kind", "cloth"], "cannot be written"),
    (["cloth"], "required: MEASUREMENTS"),
    (["cloth", "nobody.toml"], "nobody.toml: cannot be read: No such file"),
    (["cloth", "taken"], "taken, line 1: not TOML"),
]  # fmt: skip


@pytest.mark.parametrize(("arguments", "says"), WRONG, ids=[" ".join(a) or "nothing" for a, _ in WRONG])
def test_wrong_usage_is_code_two_and_one_line(
    arguments: list[str], says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken").write_text("a file, not a folder", encoding="utf-8")
    try:
        code: Any = cli.main(arguments)
    except SystemExit as stop:
        code = stop.code
    shown = capsys.readouterr()
    assert code == 2
    assert shown.out == ""
    assert len(shown.err.splitlines()) == 1
    assert says in shown.err
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


@pytest.mark.long
def test_a_reader_that_goes_away_brings_no_traceback(tmp_path: Path) -> None:
    ours, theirs = os.pipe()
    os.close(ours)
    with os.fdopen(theirs, "w") as gone:
        done = subprocess.run(
            [sys.executable, "-m", "drape", "cloths"],
            cwd=tmp_path,
            stdout=gone,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert [line for line in done.stderr.splitlines() if not line.startswith("[")] == [], "but a slow machine's bar"


@pytest.mark.long
def test_a_terminal_without_our_letters_gets_question_marks(tmp_path: Path) -> None:
    done = drape_in_a_process("cloths", where=tmp_path, PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert "g/m?" in done.stdout


@pytest.mark.long
def test_measure_measures_draws_and_saves_the_mesh(tmp_path: Path) -> None:
    done = drape("measure", "ferry-warden", "--json", where=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert list(found) == ["body", "rows", "watertight", "volume_l", "seconds"]
    assert found["body"] == "ferry-warden" and found["watertight"] is True
    for row in found["rows"]:
        assert list(row) == ["measure", "asked", "got", "filled"]
        if row["measure"].endswith("_girth_cm"):
            assert row["got"] == pytest.approx(row["asked"], rel=0.01), row
        else:
            assert row["got"] == pytest.approx(row["asked"], abs=1.0 if row["measure"].endswith("_deg") else 0.3), row
    saved = tmp_path / "ferry-warden-figure"
    names = sorted(f"ferry-warden.{kind}" for kind in ("txt", "json", "png", "glb", "obj", "mtl"))
    assert sorted(path.name for path in saved.iterdir()) == names
    assert "filled" in (saved / "ferry-warden.txt").read_text(encoding="utf-8")


def test_a_draft_that_cannot_be_drawn_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    scene = 'title = "t"\n[figure]\nbody = "ferry-warden"\n[cloth]\ncloth = "heavy melton"\n'
    scene += (
        '[draft]\nneck = "round"\nlength_cm = 100.0\nfront_neck_depth_cm = 6.0\n[closure]\nplace = "right shoulder"\n'
    )
    Path("tight.toml").write_text(scene, encoding="utf-8")
    assert cli.main(["sit", "tight.toml", "--no-pictures"]) == 2
    assert "too short to close" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["tight.toml"]


# --- trials -----------------------------------------------------------------------------------

TRIAL_KEYS = {
    "cantilever": {"weight_ratio", "chord_deg", "exact_chord_deg", "drop_over_length"},
    "heart": {"height_over_length", "exact_height_over_length"},
    "bias": {"extension_percent", "exact_extension_percent"},
}


@pytest.mark.parametrize("kind", TRIAL_KEYS)
def test_a_trial_prints_one_json_object_and_draws(tmp_path: Path, kind: str) -> None:
    done = drape("trial", kind, "--cloth", "flannel", "--json", "--out", "tried", where=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert TRIAL_KEYS[kind] | {"trial", "vertices", "seconds", "settled"} <= set(found)
    assert found["trial"] == kind and found["settled"] is True
    assert abs(found["difference_percent"]) < 2
    assert xml.parse(tmp_path / "tried" / f"{kind}.svg").getroot().tag.endswith("svg")
    assert json.loads((tmp_path / "tried" / f"{kind}.json").read_text(encoding="utf-8")) == found


def test_a_trial_of_a_cloth_file_with_a_key_overridden(tmp_path: Path) -> None:
    keys = (
        "areal_density_g_m2 = 500.0", "thickness_mm = 2.0", "bending_length_warp_cm = 2.6",
        "bending_length_weft_cm = 2.5", "tensile_stiffness_warp_n_m = 2200.0", "tensile_stiffness_weft_n_m = 1800.0",
        "shear_stiffness_n_m = 100.0", "poisson_ratio = 0.1", "friction_on_cloth = 0.5", "friction_on_figure = 0.4",
        'source = "ours"',
    )  # fmt: skip
    (tmp_path / "grey.toml").write_text("[cloth]\n" + "\n".join(keys) + "\n", encoding="utf-8")
    run = ("trial", "cantilever", "--cloth", "grey.toml", "--length-cm", "5.4", "--json")
    done = drape(*run, "--set", "bending_length_warp_cm=2.7", where=tmp_path)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["weight_ratio"] == pytest.approx(8.0, rel=1e-5)
    assert {path.name for path in tmp_path.iterdir()} == {"grey.toml"}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("ring", "--cloth", "calico", "--set", "bending_lenth_warp_cm=2"), "Nearest known: bending_length_warp_cm."),
        (("ring", "--cloth", "calico", "--set", "bending_length_warp_cm=27"), "got 27, allowed 0.5 to 8 cm"),
        (("ring", "--cloth", "calico", "--set", "soft"), "allowed key=value"),
        (("ring", "--cloth", "calic"), "calico"),
        (("rong", "--cloth", "calico"), "got 'rong', allowed 'cantilever'"),
        (("ring", "--cloth", "calico", "--length-cm", "900"), "got 900, allowed 1 to 200 cm"),
    ],
)
def test_a_trial_that_cannot_be_is_refused_in_a_line(tmp_path: Path, arguments: tuple[str, ...], words: str) -> None:
    done = drape("trial", *arguments, "--out", "tried", where=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr and len(done.stderr.splitlines()) == 1 and done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_a_trial_that_does_not_settle_is_code_three_and_stamped(tmp_path: Path) -> None:
    done = drape("trial", "ring", "--cloth", "calico", "--max-steps", "100", "--json", "--out", "tried", where=tmp_path)
    assert done.returncode == 3
    assert json.loads(done.stdout)["settled"] is False
    assert "not settled after 100 steps" in done.stderr
    assert "NOT SETTLED" in (tmp_path / "tried" / "ring.svg").read_text(encoding="utf-8")
