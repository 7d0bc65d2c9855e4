"""Members: every combination, or a hypercube that covers each range; each one a scene with its own values in it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from drape.errors import SceneError
from drape.fitting.scene import load_body, load_scene
from drape.study.members import check_members, key_of, members_of, settings_of
from drape.study.plan import load_plan

HEAD = 'title = "Ferry wardens"\nscene = "ferry-warden-tailored"\n'


def plan_of(folder: Path, text: str):
    path = folder / "plan.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return load_plan(path)


def test_all_combinations_go_through_the_last_thing_first(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, '[vary]\n"dart.intake_cm" = [6, 9]\n"draft.neck_width_cm" = [15, 16]\n')
    members = members_of(plan)
    assert [dict(one.setting) for one in members] == [
        {"dart.intake_cm": 6, "draft.neck_width_cm": 15}, {"dart.intake_cm": 6, "draft.neck_width_cm": 16},
        {"dart.intake_cm": 9, "draft.neck_width_cm": 15}, {"dart.intake_cm": 9, "draft.neck_width_cm": 16},
    ]  # fmt: skip
    assert [one.scene.style.darts[0].intake for one in members] == [0.06, 0.06, 0.09, 0.09]
    assert [one.scene.style.neck_width for one in members] == [0.15, 0.16, 0.15, 0.16]
    assert [one.number for one in members] == [1, 2, 3, 4] and members[3].scene.name == "ferry-warden-tailored-4"


def test_a_hypercube_takes_each_value_equally_often_and_covers_each_range(tmp_path: Path) -> None:
    text = (
        '[vary]\n"draft.length_cm" = { from = 80, to = 120 }\n"cloth.cloth" = ["flannel", "calico"]\n'
        '[design]\nkind = "latin hypercube"\nmembers = 20\n'
    )
    settings = settings_of(plan_of(tmp_path, text))
    lengths = sorted(one["draft.length_cm"] for one in settings)
    assert all(80 + 2 * k - 0.051 <= length <= 82 + 2 * k + 0.051 for k, length in enumerate(lengths))
    assert Counter(one["cloth.cloth"] for one in settings) == {"flannel": 10, "calico": 10}
    again = settings_of(plan_of(tmp_path, text))
    other = settings_of(plan_of(tmp_path, text + "seed = 1\n"))
    assert [dict(one) for one in again] == [dict(one) for one in settings] != [dict(one) for one in other]


def test_a_draft_is_cut_for_each_body_or_once_for_all(tmp_path: Path) -> None:
    own = load_scene("ferry-warden-tailored")
    (each,) = members_of(
        replace(plan_of(tmp_path, '[bodies]\nnamed = ["man-95", "man-5"]\n'), kind="all combinations")
    )[:1]
    assert each.scene.tape == load_body("man-95").tape and each.scene.cut_for is None and each.scene.body == "man-95"
    (one,) = members_of(plan_of(tmp_path, '[bodies]\nnamed = ["man-95", "man-5"]\ndraft = "one for all"\n'))[:1]
    assert one.scene.tape == load_body("man-95").tape
    assert one.scene.cut_for is not None and one.scene.cut_for.tape == own.tape


def test_what_a_scene_says_of_its_own_wearer_goes_for_no_other(tmp_path: Path) -> None:
    source = (Path(__file__).parents[3] / "scenes" / "ferry-warden-tailored.toml").read_text(encoding="utf-8")
    own = source.replace('body = "ferry-warden"', 'body = "ferry-warden"\nchest_girth_cm = 110.0')
    (tmp_path / "own.toml").write_text(own + "\n[stance]\nstoop_cm = 3.0\n", encoding="utf-8")
    path = tmp_path / "plan.toml"
    path.write_text(
        'title = "a"\nscene = "own.toml"\n[vary]\n"figure.waist_girth_cm" = [90]\n[bodies]\n'
        'named = ["man-95", "ferry-warden"]\n',
        encoding="utf-8",
    )
    plan = load_plan(path)
    scenes = [one.scene for one in members_of(plan)]
    assert plan.scene.tape["chest_girth"] == 1.1 and plan.scene.stance.stoop == 0.03
    assert [one.tape["chest_girth"] for one in scenes] == [load_body(n).tape["chest_girth"] for n in plan.wearers]
    assert [one.stance.stoop for one in scenes] == [0.0, 0.0]
    assert [one.tape["waist_girth"] for one in scenes] == [0.9, 0.9]


def test_a_member_no_scene_may_be_is_named_before_anything_runs(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, '[vary]\n"cloth.cloth" = ["flannel", "flanel"]\n')
    with pytest.raises(SceneError, match=r'plan.toml, member 2 \(cloth.cloth flanel\), cloth.cloth: got "flanel"'):
        members_of(plan)
    hung = plan_of(
        tmp_path, '[vary]\n"draft.level" = [true, false]\n[bodies]\nnamed = ["man-5"]\ndraft = "one for all"\n'
    )
    with pytest.raises(SceneError, match="bodies.draft: got a draft with level"):
        members_of(hung)
    alike = plan_of(tmp_path, '[vary]\n"picture.outside" = ["#44648c", "#44648d"]\n')
    with pytest.raises(SceneError, match="all alike"):
        check_members(alike)


def test_an_outcomes_key_hangs_on_what_settles_and_what_judges_and_on_no_word(tmp_path: Path) -> None:
    member = members_of(plan_of(tmp_path, '[vary]\n"dart.intake_cm" = [6, 9]\n[settle]\nstarts = 2\n'))[0]
    first, second = member.jobs
    scene = first.scene
    assert (first.seed, second.seed) == (0, 1) and key_of(first) != key_of(second)
    assert key_of(replace(first, scene=replace(scene, name="b", title="c", expect="d", colours={}))) == key_of(first)
    assert key_of(replace(first, scene=replace(scene, limits={"gap_cm": 1.0}))) != key_of(first)
    assert key_of(replace(first, edge_length=0.03)) != key_of(first)
