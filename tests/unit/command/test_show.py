"""`drape show` before anything is drawn: which file is meant, what is refused, what the job says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from drape import drawing_process
from drape.command import main as cli


@pytest.fixture
def jobs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[dict]:
    """Jobs as they would be handed to the drawing process, in an empty folder."""
    asked: list[dict] = []

    def draw(job: dict) -> list[str]:
        asked.append(job)
        return ["one.png"]

    monkeypatch.setattr(drawing_process, "draw_in_child", draw)
    monkeypatch.chdir(tmp_path)
    return asked


def test_a_folder_stands_for_the_only_result_in_it(jobs: list[dict], capsys: pytest.CaptureFixture[str]) -> None:
    Path("kept").mkdir()
    Path("kept/warden.npz").touch()
    assert cli.main(["show", "kept"]) == 0
    assert jobs[0]["saved"] == [str(Path("kept/warden.npz"))]
    assert jobs[0]["make"] == ["sheet"] and jobs[0]["out"] == "kept"
    assert capsys.readouterr().out == "one.png\n"


def test_flags_reach_the_job_in_si(jobs: list[dict], capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("a.npz", "b.npz"):
        Path(name).touch()
    typed = [
        "show",
        "a.npz",
        "b.npz",
        "--make",
        "views",
        "--make",
        "turn",
        "--make",
        "views",
        "--view",
        "left shoulder",
        "--azimuth-deg",
        "90",
    ]
    typed += [
        "--elevation-deg",
        "90",
        "--height-px",
        "900",
        "--paint",
        "layers",
        "--lines",
        "--starts",
        "b.npz",
        "--out",
        "drawn",
        "--json",
    ]
    assert cli.main(typed) == 0
    (job,) = jobs
    assert job["make"] == ["views", "turn"] and job["starts"] == ["b.npz"] and job["out"] == "drawn"
    how = job["how"]
    assert how["azimuth"] == pytest.approx(1.5708, abs=1e-4) and 1.57 < how["elevation"] < 1.5708
    assert (how["views"], how["height"], how["paint"], how["lines"]) == (["left shoulder"], 900, "layers", True)
    assert json.loads(capsys.readouterr().out) == {"files": ["one.png"]}


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (["absent.npz"], 'got "absent.npz", no such file'),
        (["empty"], "got 0 saved fittings (none), allowed one"),
        (["two"], "got 2 saved fittings (a.npz, b.npz), allowed one"),
        (["a.npz", "--height-px", "10"], "got 10, allowed 200 to 4000"),
        (["a.npz", "--height-px", "tall"], "got 'tall', allowed a whole number"),
        (["a.npz", "--azimuth-deg", "nan"], "got nan, allowed -360 to 360"),
        (["a.npz", "--elevation-deg", "100"], "got 100, allowed -90 to 90"),
        (["a.npz", "--make", "film"], "got 'film', allowed"),
        (["a.npz", "--view", "below"], "got 'below', allowed"),
        (["a.npz", "--starts", "absent.npz"], 'got "absent.npz", no such file'),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    typed: list[str], says: str, jobs: list[dict], capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("empty", "two"):
        Path(name).mkdir()
    for name in ("a.npz", "two/a.npz", "two/b.npz"):
        Path(name).touch()
    try:
        code = cli.main(["show", *typed])
    except SystemExit as stop:
        code = stop.code
    shown = capsys.readouterr()
    assert code == 2 and shown.out == "" and jobs == []
    assert len(shown.err.splitlines()) == 1 and says in shown.err
