"""`drape study`: what it refuses, in a line and before anything runs, and what it says where packages are missing."""

from __future__ import annotations

import builtins
import contextlib
import json
from pathlib import Path
from types import SimpleNamespace

import pytest
from studied import outcome, readings

from drape.command.arguments import build_parser
from drape.command.main import main
from drape.command.study import door_of
from drape.fitting.side_by_side import Door
from drape.study import conduct
from drape.study.engine import State

PLAN = 'title = "a"\nscene = "ferry-warden-tailored"\n[vary]\n"draft.length_cm" = [100, 110]\n'


@pytest.fixture
def plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("drape.study.members.check_base", lambda _: None)  # the warden's draft is drawn elsewhere
    monkeypatch.setattr("drape.command.study.watch_compiling", lambda: None)
    (tmp_path / "mine.toml").write_text(PLAN, encoding="utf-8")
    return "mine.toml"


def refused(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> str:
    assert main(["study", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1
    return err


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (["--tls-cert", "a.pem"], "--tls-cert: got it without --cluster"),
        (["--cluster", "tcp://a:1", "--jobs", "2"], "--jobs: got it with --cluster"),
    ],
)
def test_flags_that_do_not_go_together(plan, capsys, flags, said) -> None:
    assert said in refused(capsys, [plan, *flags])


def test_mend_goes_through_the_same_door_and_refuses_the_same_flags(capsys, monkeypatch, tmp_path) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("drape.cloth.rehearsal.compile_kernels", lambda: None)
    assert main(["mend", "ferry-warden-round", "--cluster", "tcp://a:1", "--jobs", "2"]) == 2
    assert "--jobs: got it with --cluster" in capsys.readouterr().err
    doors = []
    monkeypatch.setattr(
        "drape.command.study._cluster", lambda _: contextlib.nullcontext(SimpleNamespace(nthreads=dict))
    )
    monkeypatch.setattr("drape.study.engine.check_installed", lambda: None)
    for flags in (["--jobs", "3"], ["--cluster", "tcp://a:1"]):
        chosen = build_parser().parse_args(["mend", "ferry-warden-round", *flags])
        with door_of(chosen) as door:
            doors.append(door)
    assert doors[0] == Door(3) and doors[1].count == 1 and doors[1].far is not None


def test_without_the_extra_one_line_says_what_to_type(plan, capsys, monkeypatch) -> None:
    real = builtins.__import__

    def missing(name: str, *more: object):
        if name == "distributed":
            raise ImportError("No module named 'distributed'")
        return real(name, *more)

    monkeypatch.setattr(builtins, "__import__", missing)
    assert "Type: pip install 'drape[study]'" in refused(capsys, [plan])
    assert not Path("mine-study").exists()


def test_a_plan_that_is_wrong_leaves_no_folder(plan, capsys, monkeypatch) -> None:
    monkeypatch.setattr("drape.study.engine.check_installed", lambda: None)
    Path(plan).write_text(PLAN.replace("110", "1100"), encoding="utf-8")
    assert "vary.draft.length_cm: got 1100, allowed 15 to 200 cm" in refused(capsys, [plan])
    assert not Path("mine-study").exists()


def test_rows_and_summary_are_written_once_all_is_settled(plan, capsys, monkeypatch) -> None:
    def settle_all(_, jobs, take) -> None:
        for k, key in enumerate(jobs, start=1):
            take(key, outcome(readings()), State(k, 1, 0, len(jobs), 1))

    class Client:
        def __enter__(self):
            return self

        def __exit__(self, *_: object) -> None: ...

        def nthreads(self) -> dict[str, int]:
            return {"tcp://a": 1}

    monkeypatch.setattr("drape.study.engine.check_installed", lambda: None)
    monkeypatch.setattr("drape.study.rows._write_parquet", lambda columns, path: path.write_bytes(b"rows"))
    monkeypatch.setattr(conduct, "settle_all", settle_all)
    monkeypatch.setattr("drape.command.study._cluster", lambda _: Client())
    assert main(["study", plan, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found == {"members": 2, "settled": 2, "failed": 0, "rows": "mine-study/study.parquet"}
    assert Path("mine-study/study.csv").read_text(encoding="utf-8").count("\n") == 3
