"""Plans: what is let through comes out in full; everything else gets one line, before anything runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from drape.errors import SceneError
from drape.fitting.scene import load_scene
from drape.study.plan import Factor, as_written, count_of, load_plan, shipped_plans

HEAD = 'title = "Ferry wardens"\nscene = "ferry-warden-tailored"\n'


def plan_of(folder: Path, text: str, head: str = HEAD):
    path = folder / "plan.toml"
    path.write_text(head + text, encoding="utf-8")
    return load_plan(path)


def test_lists_and_ranges_of_any_key_are_taken_as_the_scene_would(tmp_path: Path) -> None:
    plan = plan_of(
        tmp_path,
        '[vary]\n"dart.intake_cm" = [6, 9, 12]\n"draft.front_neck_depth_cm" = { from = 20, to = 21, count = 5 }\n'
        '"cloth.cloth" = ["flannel", "calico"]\n"closure.buttons" = { from = 2, to = 4, count = 3 }\n',
    )
    assert plan.factors == (
        Factor("dart.intake_cm", (6, 9, 12)),
        Factor("draft.front_neck_depth_cm", (20.0, 20.2, 20.5, 20.8, 21.0), is_range=True),
        Factor("cloth.cloth", ("flannel", "calico")),
        Factor("closure.buttons", (2, 3, 4), is_range=True),
    )
    assert count_of(plan) == 3 * 5 * 2 * 3


def test_a_key_may_stand_in_a_table_of_its_own_or_under_the_draft(tmp_path: Path) -> None:
    one = plan_of(tmp_path, '[vary]\n"draft.dart.intake_cm" = [6, 9]\n')
    other = plan_of(tmp_path, "[vary.dart]\nintake_cm = [6, 9]\n")
    assert one.factors == other.factors == (Factor("dart.intake_cm", (6, 9)),)


def test_bodies_are_named_or_drawn_each_under_a_name_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "man-5.toml").write_text((Path(__file__).parents[3] / "bodies" / "man-5.toml").read_text())
    plan = plan_of(tmp_path, '[bodies]\nnamed = ["man-5", "man-5.toml", "lamp-bearer"]\ndrawn = 2\nsex = "man"\n')
    assert list(plan.wearers) == ["man-5", "man-5-2", "lamp-bearer", "man 1", "man 2"]
    assert plan.factors == (Factor("body", tuple(plan.wearers)),)
    assert not plan.is_one_draft


def test_the_rest_of_a_plan(tmp_path: Path) -> None:
    text = (
        '[vary]\n"dart.intake_cm" = { from = 6, to = 9 }\n[design]\nkind = "latin hypercube"\nmembers = 7\nseed = 3\n'
        "[settle]\nedge_length_cm = 6\nstarts = 3\n"
    )
    plan = plan_of(tmp_path, text)
    assert (plan.kind, plan.members, plan.seed, plan.starts, plan.edge_length) == ("latin hypercube", 7, 3, 3, 0.06)
    assert plan.scene == load_scene("ferry-warden-tailored") and count_of(plan) == 7 and plan.name == "plan"


def test_a_scene_beside_the_plan_is_found(tmp_path: Path) -> None:
    source = (Path(__file__).parents[3] / "scenes" / "ferry-warden-round.toml").read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(source, encoding="utf-8")
    plan = plan_of(tmp_path, '[vary]\n"draft.length_cm" = [100, 110]\n', 'title = "a"\nscene = "own.toml"\n')
    assert plan.scene.name == "own" and plan.beside == tmp_path


@pytest.mark.parametrize("name", shipped_plans())
def test_shipped_plans_load_and_have_members(name: str) -> None:
    assert 2 <= count_of(load_plan(name)) <= 64


VARY = "[vary]\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "got nothing that varies"),
        ("[vary]\n", "Write [vary] with a key of the scene"),
        (VARY + '"dart.intake" = [6, 9]', 'vary.dart.intake: unknown key. Did you mean "dart.intake_cm"?'),
        (VARY + "intake_cm = [6, 9]", "vary.intake_cm: unknown key"),
        (VARY + '"dart.intake_cm" = [6, 90]', "vary.dart.intake_cm: got 90, allowed 0 to 40 cm. If this is in"),
        (VARY + '"dart.intake_cm" = ["6"]', 'vary.dart.intake_cm: got "6", allowed a number, 0 to 40 cm'),
        (VARY + '"dart.intake_cm" = 6', "vary.dart.intake_cm: got 6, allowed a list"),
        (VARY + '"dart.intake_cm" = [6, 6]', "a value twice"),
        (VARY + '"dart.2.intake_cm" = [6, 9]', "got a [[dart]] that the scene has not: it has 1"),
        (VARY + '"dart.intake_cm" = { from = 9, to = 6 }', "got 9 to 6, allowed a rising range"),
        (VARY + '"dart.intake_cm" = { from = 6 }', "vary.dart.intake_cm.to: missing"),
        (VARY + '"dart.intake_cm" = { from = 6, to = 90 }', "vary.dart.intake_cm: got 90, allowed 0 to 40 cm"),
        (VARY + '"dart.intake_cm" = { from = 6, to = 9, steps = 3 }', "vary.dart.intake_cm.steps: unknown key"),
        (VARY + '"dart.intake_cm" = { from = 6, to = 9, count = 1 }', "vary.dart.intake_cm.count: got 1, allowed 2"),
        (VARY + '"cloth.cloth" = { from = 1, to = 2 }', "got a range, allowed a list"),
        (VARY + '"draft.neck" = ["round", "square"]', 'vary.draft.neck: got "square", allowed "round", "tailored"'),
        (VARY + '"dart.intake_cm" = [6, 9]\n[design]\nmembers = 4', "design.members: got a number of members"),
        (VARY + '"dart.intake_cm" = [6, 9]\n[design]\nkind = "latin hypercube"', "design.members: missing"),
        (VARY + '"dart.intake_cm" = [6]', "got 1 members, allowed 2 to 10000"),
        (VARY + '"dart.intake_cm" = [6, 9]\n[settle]\nstart = 3', "settle.start: unknown key. Nearest known: starts"),
        ('[bodies]\nsex = "man"', "bodies: got nobody"),
        ('[bodies]\nnamed = ["nobody-here"]', 'got "nobody-here", no such file'),
        (
            "[bodies]\ndrawn = 2\nstature_from_cm = 180\nstature_to_cm = 170",
            "stature_to_cm: got 170, allowed more than",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SceneError) as refused:
        plan_of(tmp_path, text)
    assert said in str(refused.value) and "\n" not in str(refused.value)


def test_a_plan_that_is_not_there_is_named_with_the_nearest_shipped_one() -> None:
    with pytest.raises(SceneError, match='Did you mean "one-cloak-for-many"'):
        load_plan("one-cloak-for-man")


def test_a_scene_is_no_plan_and_a_plan_no_scene() -> None:
    scenes = Path(__file__).parents[3] / "scenes"
    with pytest.raises(SceneError, match="got a scene, allowed the plan of a study. `drape sit"):
        load_plan(scenes / "ferry-warden-round.toml")
    with pytest.raises(SceneError, match="the plan of a study, allowed a scene. `drape study"):
        load_scene(scenes / "studies" / "one-cloak-for-many.toml")


def test_values_are_written_as_a_maker_would() -> None:
    assert (as_written("dart.intake_cm", 7.3849), as_written("draft.sweep_deg", 181.06)) == (7.4, 181.1)
    assert as_written("cloth.friction_on_cloth", 0.412345) == 0.4123
    assert as_written("closure.buttons", 3.4, is_whole=True) == 3


def test_a_whole_study_may_be_wet(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(f'{HEAD}[vary]\n"dart.intake_cm" = [6, 9]\n', encoding="utf-8")
    wet, dry = load_plan(path, wet=True), load_plan(path)
    assert (wet.name, dry.name) == ("plan-wet", "plan")
    assert wet.scene.is_wet and not dry.scene.is_wet
    assert wet.document["cloth"]["wet"] is True  # of which the members are made
