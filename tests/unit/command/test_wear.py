"""`drape wear` as it is typed: files, words, exit codes; and `drape sit` of a scene that says how it is worn."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from drape.command import wear as command
from drape.command.main import main
from drape.fitting.scene import load_scene, shipped_folder


@pytest.fixture
def worn(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What is asked of the chain, and one way that it tells, without settling anything."""
    arm = {"bare_cm": 0.0, "free": False, "bare_at": []}
    way = {
        "how": "open", "doing": "stand", "settled": True, "stays": True, "slid_cm": 4.0, "pull_n": None,
        "cover": {"front_percent": 80.0, "back_percent": 60.0, "rain_percent": 70.0}, "throat_n": 0.0,
        "shoulder_left_percent": 95.0, "shoulder_right_percent": 5.0, "hem_lowest_cm": 36.0, "trodden_on": False,
        "arms": {"left": arm, "right": arm}, "turned_deg": 0.0, "ridden_back_cm": 0.0, "seconds": 1.0,
    }  # fmt: skip
    told: dict[str, Any] = {"way": way}

    def wear_often(scene: Any, asked: Any, starts: int, **_: Any) -> list[Any]:
        told.update(asked=asked, starts=starts)
        fitting = SimpleNamespace(readings={"settled": True})
        ways = (SimpleNamespace(readings=told["way"], shapes=()),)
        return [SimpleNamespace(scene=scene, fitting=fitting, ways=ways, left_out=("x: too short.",), shapes=())]

    monkeypatch.setattr("drape.wearing.starts.wear_often", wear_often)
    monkeypatch.setattr("drape.cloth.rehearsal.compile_kernels", lambda: None)
    return told


def test_it_writes_what_it_says_and_tells_what_is_left_out(worn, tmp_path, capsys):
    asked = ["wear", "ferry-warden-round", "--how", "open", "--doing", "lean", "--lean-deg", "30", "--json"]
    assert main([*asked, "--out", str(tmp_path / "o"), "--edge-length-cm", "6"]) == 0
    out, err = capsys.readouterr()
    found = json.loads(out)
    assert found["ways"][0]["how"] == "open" and found["settled"] is True
    assert "x: too short." in err
    assert sorted(path.name for path in (tmp_path / "o").iterdir()) == [
        "ferry-warden-round-wear.json", "ferry-warden-round-wear.txt",
    ]  # fmt: skip
    assert (worn["asked"].hows, worn["asked"].doings, worn["starts"]) == (("open",), ("lean",), 1)


def test_what_did_not_settle_is_said_and_ends_with_three(worn, tmp_path, capsys):
    worn["way"]["settled"] = False
    assert main(["wear", "ferry-warden-round", "--out", str(tmp_path / "o")]) == 3
    assert "NOT SETTLED" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["--how", "sideways"], "got 'sideways', allowed"),
        (["--lean-deg", "90"], "--lean-deg: got 90, allowed 5 to 60"),
        (["--starts", "0"], "allowed a whole number from 1 to 8"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(worn, typed, said, tmp_path, capsys):
    try:
        code = main(["wear", "ferry-warden-round", "--out", str(tmp_path / "o"), *typed])
    except SystemExit as stop:
        code = stop.code
    err = capsys.readouterr().err
    assert code == 2 and said in err and err.count("\n") == 1 and not (tmp_path / "o").exists()


def test_a_scene_says_how_it_is_worn_and_sit_then_adds_it(worn, tmp_path):
    text = (shipped_folder("scene") / "ferry-warden-round.toml").read_text(encoding="utf-8")
    file = tmp_path / "own.toml"
    file.write_text(f'{text}\n[wear]\nhow = ["open", "closed"]\ndoing = "lean"\n', encoding="utf-8")
    scene = load_scene(file)
    assert scene.worn == {"how": ("open", "closed"), "doing": ("lean",)}
    chosen = SimpleNamespace(seed=3, no_pictures=True)
    settled = SimpleNamespace(readings={"settled": True})
    own, complaint = command.worn_beside(scene, settled, 0.06, chosen, tmp_path)
    assert worn["asked"].hows == ("open", "closed") and worn["asked"].seed == 3
    assert own.readings == {"ways": [worn["way"]]} and complaint is None
    assert own.files == ("own-wear.json", "own-wear.txt")
    worn["way"]["settled"] = False
    assert "worn open: not settled" in str(command.worn_beside(scene, settled, 0.06, chosen, tmp_path)[1])
    nothing = load_scene("ferry-warden-round")
    assert command.worn_beside(nothing, settled, 0.06, chosen, tmp_path) == (command.Worn(), None)
    unsettled = SimpleNamespace(readings={"settled": False})
    assert command.worn_beside(scene, unsettled, 0.06, chosen, tmp_path) == (command.Worn(), None)


def test_a_way_that_is_none_is_refused_in_the_scene(tmp_path: Path) -> None:
    text = (shipped_folder("scene") / "ferry-warden-round.toml").read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(f'{text}\n[wear]\nhow = ["thrown"]\n', encoding="utf-8")
    assert main(["sit", str(tmp_path / "own.toml")]) == 2
