"""What a worker does: one settling, and what came of it as plain JSON, whatever it was."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import Any

import pytest
from studied import member, readings

from drape.errors import DraftError, NotSettledError
from drape.fitting.settling_process import packed
from drape.study import task
from drape.study.task import outcome_of, versions, work

(JOB,) = member(1, {}).jobs


def settles(monkeypatch: pytest.MonkeyPatch, found: Any) -> None:
    def settled(*_: object) -> Any:
        if isinstance(found, Exception):
            raise found
        return found

    monkeypatch.setattr(task, "settled", settled)


def test_what_settles_comes_out_with_readings_dimensions_and_versions(monkeypatch: pytest.MonkeyPatch) -> None:
    fitting = SimpleNamespace(readings=readings(), about={"dimensions": {"neck_width": 0.149, "area": 2.5}})
    settles(monkeypatch, fitting)
    found = json.loads(work(packed(JOB)))
    assert found["readings"] == json.loads(json.dumps(readings())) and found["seconds"] == 2.0
    assert found["dimensions"] == {"neck_width_cm": 14.9, "area_m2": 2.5}
    assert (found["state"], found["why"], found["versions"]) == ("settled", "", versions())


@pytest.mark.parametrize(
    ("error", "state"), [(DraftError("draft: too short"), "failed"), (NotSettledError("not yet"), "not settled")]
)
def test_what_does_not_settle_comes_out_with_why_and_no_readings(monkeypatch, error, state) -> None:
    settles(monkeypatch, error)
    found = outcome_of(JOB)
    assert (found["state"], found["why"], found["readings"]) == (state, str(error), None)


def test_a_fault_of_ours_is_not_taken_for_an_outcome(monkeypatch: pytest.MonkeyPatch) -> None:
    settles(monkeypatch, ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        outcome_of(JOB)


def test_a_settling_is_sent_in_a_few_kilobytes() -> None:
    assert len(packed(JOB)) < 10_000
