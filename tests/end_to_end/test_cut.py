"""`drape cut` as a user types it: one object on stdout, the folder filled, impossible asks in one line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from families import most_are_long
from typed import drape

from drape.fitting.starter_scene import STARTER_SCENE


@pytest.mark.parametrize("lined", most_are_long([False, True], False))
def test_cut_prints_one_object_and_fills_its_folder(tmp_path: Path, lined: bool) -> None:
    short = STARTER_SCENE.replace("length_cm = 110.0 ", "length_cm = 50.0 ")
    lining = '\n[lining]\ncloth = "light suiting"\nwidth_cm = 150.0\n' if lined else ""
    (tmp_path / "a.toml").write_text(short + lining, encoding="utf-8")
    done = drape("cut", "a.toml", "--width-cm", "60", "--no-table", "--json", where=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    cloth = found["cloth"]
    assert cloth["area_bound_cm"] < cloth["length_cm"] < cloth["strips_cm"]
    assert [piece["name"] for piece in found["pieces"]][0] == "body"
    assert not lined or [piece["name"] for piece in found["lining"]["pieces"]] == ["body"]
    folder = tmp_path / "a-cut-60cm"
    drawings = {
        "lay-card.svg",
        "lay.svg",
        "lay.dxf",
        "roll.pdf",
        "pattern-a4.pdf",
        "pattern-a3.pdf",
        "pattern-letter.pdf",
    }
    assert {path.name for path in folder.iterdir()} == {
        "index.html", "cut.txt", "cut.json", "made-from.json", *drawings,
        *(f"lining-{name}" for name in drawings if lined),
    }  # fmt: skip
    assert json.loads((folder / "cut.json").read_text(encoding="utf-8")) == found
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("tables", "flags", "says"),
    [
        ("", ("--width-cm", "0"), "piecing.width_cm: got 0, allowed at least 11"),
        ("", ("--width-cm", "17"), "too narrow to pass neck, dart"),
        ("", ("--width-cm", "7000"), "got 7000, allowed 0 to 400 cm"),
        ('[lay]\nnap = "one way"\nfold = "across"', ("--width-cm", "140"), "across for cloth with a nap"),
        ('[lay]\nfold = "twice"', (), 'got "twice", allowed "single", "lengthwise" or "across"'),
        ("[piecing]\nwidth = 70.0", (), "Nearest known: width_cm"),
    ],
)
def test_what_cannot_be_cut_gets_one_line(tables: str, flags: tuple[str, ...], says: str, tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(f"{STARTER_SCENE}\n{tables}\n", encoding="utf-8")
    done = drape("cut", "a.toml", "--no-table", *flags, where=tmp_path)
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    last = done.stderr.strip().splitlines()[-1]
    assert says in last
    assert "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["a.toml"]
