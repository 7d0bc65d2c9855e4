"""README's walk from the body to the cut cloth, every command typed as it is printed,
on triangles as coarse as may be.
"""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from drape.command import main as cli

pytestmark = pytest.mark.long  # every command of README's walk

README = Path(__file__).resolve().parents[2] / "README.md"
COMMANDS = re.findall(r"^ +\.venv/bin/drape (.+)$", README.read_text(encoding="utf-8"), flags=re.MULTILINE)
TAPED = {"stature_cm": 168.5, "chest_girth_cm": 92.0, "waist_girth_cm": 75.0, "hip_girth_cm": 99.0}


def by_hand(path: Path) -> None:
    """What the reader is told to write into a new file; and larger triangles, so that the test is soon done."""
    text = path.read_text(encoding="utf-8")
    for key, value in TAPED.items():
        text = re.sub(rf"^{key} =$", f"{key} = {value}", text, flags=re.MULTILINE)
    path.write_text(text.replace("\nedge_length_cm = 1.5", "\nedge_length_cm = 6.0"), encoding="utf-8")


def test_every_command_of_the_readme_does_what_it_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        "drape.cutting.lay.SHOPPING_WIDTHS", (0.7, 1.4)
    )  # fewer widths in cut's table, which takes most of the time
    for command in COMMANDS:
        words = shlex.split(command)
        assert cli.main(words) == 0, f"{command}: {capsys.readouterr().err}"
        if words[0] == "new":
            by_hand(next(Path(word) for word in words if word.endswith(".toml")))
    steps = [shlex.split(command)[0] for command in COMMANDS]
    assert [step for step in steps if step in ("measure", "draft", "sit", "mend", "cut")] == [
        "measure",
        "draft",
        "sit",
        "mend",
        "cut",
    ]
    readings = json.loads(Path("mine-fitting/mine.json").read_text(encoding="utf-8"))
    assert readings["settled"] is True
    asked = {
        row["measure"]: row["asked"]
        for row in json.loads(Path("mine-body-figure/mine-body.json").read_text(encoding="utf-8"))["rows"]
    }
    assert {key: asked[key] for key in TAPED} == TAPED
    for made in (
        "mine-body.svg",
        "mine-fitting/mine.svg",
        "mine-fitting/mine.html",
        "mine-mend/mend.txt",
        "mine-cut-70cm/index.html",
    ):
        assert Path(made).stat().st_size > 0, made
