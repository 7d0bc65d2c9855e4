"""Members of a study and outcomes of their settlings, without settling: readings as a formula of what varies."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from drape.fitting.scene import load_scene
from drape.study.members import Member, key_of, settings_of
from drape.study.plan import load_plan
from drape.study.results import results_of
from drape.study.told import Findings, findings_of

SCENE = load_scene("ferry-warden-tailored")
VERSIONS = {"drape": "0.1.0", "program": "abc"}


def member(number: int, setting: Mapping[str, Any], starts: int = 1, **changed: Any) -> Member:
    """A member with what varies in its title alone, so that each has a key of its own."""
    scene = replace(SCENE, name=f"m-{number}", max_steps=1000 + number, **changed)
    return Member(number, setting, scene, 0.06, starts)


def readings(**values: float) -> dict[str, Any]:
    """Readings of a draft that sits, with a few of them set: `readings(gap_max_cm=2.0)`."""
    neck = {f"gap_{side}_cm": 0.4 for side in ("front", "left", "back", "right", "max")} | {"gap_max_at": "front"}
    neck |= {f"ride_{side}_cm": 0.6 for side in ("front", "left", "back", "right")}
    neck |= {"throat_load_n": 1.0, "throat_line_load_n_m": 5.0}
    shoulder = {"stand_off_mean_cm": 0.2, "stand_off_max_cm": 0.3, "stand_off_at_cm": 5.0, "lie_percent": 60.0}
    fall = {f"{side}_cm": 45.0 for side in ("front", "left", "back", "right", "mean", "lowest", "highest")}
    groups: dict[str, Any] = {
        "neck": neck, "shoulder_left": shoulder, "shoulder_right": shoulder,
        "spare": {"percent": 1.0, "within_cm": 12.0},
        "crowding": {"at_cm": [1.0, 2.0], "fullness_percent": [0.1, 0.2], "folds": [0, 1], "fold_depth_cm": [0.0, 0.1],
                     "max_percent": 0.2, "mean_percent": 0.15},
        "closure": {"place": "right shoulder", "shift_cm": 0.1, "gape_cm": 1.0, "pull_n": 3.0},
        "fall": {**fall, "level_cm": 2.0, "reaches": "the knee", "clearance_cm": 45.0},
        "balance": {"forward_cm": 0.2, "left_cm": 0.1, "turn_deg": 1.0},
    }  # fmt: skip
    for name, value in values.items():
        home = next(group for group in groups.values() if name in group)
        home[name] = value
    return {"scene": "m", "settled": True, "steps": 700, "vertices": 890, "seconds": {"settle": 2.0}, **groups}


def outcome(found: Mapping[str, Any] | None, seconds: float = 2.0, why: str = "") -> dict[str, Any]:
    """An outcome with these readings, or of a settling that failed."""
    why = why or ("" if found else "no draft")
    return {
        "state": "settled" if found else "failed", "why": why, "readings": found, "seconds": seconds,
        "dimensions": {"neck_width_cm": 14.9} if found else {}, "versions": VERSIONS,
    }  # fmt: skip


def outcomes(
    members: list[Member], read: Callable[[Member, int], Mapping[str, Any] | None], why: str = "no draft"
) -> dict[str, Any]:
    """The outcome of each member's each start, by its key; why: those failed of which nothing was read."""
    return {
        key_of(job): outcome(values, why="" if values else why)
        for one in members for job in one.jobs for values in [read(one, job.seed)]
    }  # fmt: skip


DIMENSIONS = '[vary]\n"dart.intake_cm" = [6, 9]\n"draft.neck_width_cm" = [14, 15, 16]\n'
BODIES = '[bodies]\nnamed = ["man-5", "man-50", "man-95", "ferry-warden"]\n'


def found(folder: Path, text: str, gap: Any, why: str = "no draft") -> Findings:
    """A study whose neck gapes as `gap` says of each member's setting; None: it fails, and `why`."""
    path = folder / "plan.toml"
    path.write_text(f'title = "Wardens"\nscene = "ferry-warden-tailored"\n{text}', encoding="utf-8")
    plan = load_plan(path)
    tapes = {name: body.tape for name, body in plan.wearers.items()}
    members = [
        member(k, dict(one), 3, tape=tapes.get(one.get("body", ""), SCENE.tape))
        for k, one in enumerate(settings_of(plan), start=1)
    ]

    def read(one: Any, _: int) -> Any:
        value = gap(one.setting)
        return None if value is None else readings(gap_back_cm=value)

    return findings_of(plan, results_of(members, outcomes(members, read, why)))
