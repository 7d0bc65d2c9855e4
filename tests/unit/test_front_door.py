"""The front door: its names, what it refuses, and its examples, run as they are printed."""

from __future__ import annotations

import ast
import doctest
import importlib
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from quiet import QUIET

import drape
from drape.command.topics import page
from drape.fitting.front_door import check_count, distinct, edge_length_of, mending_edge_length_of
from drape.fitting.scene import load_scene
from drape.reading.result import Fitting

HEAVY = {"numpy", "scipy", "numba", "trimesh", "pyvista", "vtkmodules"}
PACKAGE = Path(drape.__file__).parent
WITH_EXAMPLES = [
    path for path in sorted(PACKAGE.rglob("*")) if path.suffix in (".py", ".md") and ">>> " in path.read_text("utf-8")
]


def fresh(code: str) -> str:
    """What a new process prints."""
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()


# --- names ------------------------------------------------------------------------------------


def for_types() -> set[str]:
    """The names that a type checker finds."""
    tree = ast.parse(Path(drape.__file__).read_text(encoding="utf-8"))
    found = next(node for node in tree.body if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
    return {alias.name for node in found.body if isinstance(node, ast.ImportFrom) for alias in node.names}


def test_one_list_of_names_holds_everywhere() -> None:
    assert drape.__all__ == sorted(drape.__all__)
    assert for_types() == set(drape._FOUND_IN)
    assert set(drape.__all__) >= {"load_scene", "sit", "compare", "mend", "load_fitting", "Scene", "Fitting"}
    for name in drape.__all__:
        assert getattr(drape, name) is not None
        assert name in dir(drape)
    errors = {name for name in drape.__all__ if name.endswith("Error")}
    known = vars(importlib.import_module("drape.errors")).values()
    assert errors == {one.__name__ for one in known if isinstance(one, type) and issubclass(one, drape.DrapeError)}


def test_every_public_name_says_what_it_is() -> None:
    assert [name for name in drape.__all__ if name[0] != "_" and not getattr(drape, name).__doc__] == []


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="module 'drape' has no attribute 'settle'"):
        drape.settle  # noqa: B018


def test_nothing_heavy_is_loaded_before_a_name_is_used() -> None:
    said = fresh(
        f"import sys, drape; heavy = {HEAVY}\nprint(heavy & set(sys.modules))\n"
        "drape.Scene\nprint('numpy' in sys.modules)"
    )
    assert said.splitlines() == ["set()", "True"]


@pytest.mark.long
def test_rooms_and_modules_of_like_names_do_not_hide_the_functions() -> None:
    said = fresh(
        "import drape.fitting.sit, drape.fitting.mend, drape.reading.comparison, drape\n"
        "print(*[type(getattr(drape, name)).__name__ for name in ('sit', 'mend', 'compare', 'fitting', 'Fitting')])"
    )
    assert said == "function function function module type"


def test_types_are_shipped() -> None:
    assert Path(drape.__file__).with_name("py.typed").is_file()


# --- what is asked, and what is refused -------------------------------------------------------


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: drape.sit("ferry-warden-tailor"), "ferry-warden-tailored"),
        (lambda: drape.sit(5), "scene: got a int, allowed a name, a path or a Scene"),  # type: ignore[arg-type]
        (lambda: drape.sit("ferry-warden-round", quality="best"), "quality: got 'best', allowed quick, fair, fine"),  # type: ignore[arg-type]
        (lambda: drape.sit("ferry-warden-round", edge_length_cm=7), "edge_length_cm: got 7, allowed 0.5 to 6 cm"),
        (lambda: drape.sit("ferry-warden-round", quality="quick", edge_length_cm=3), "allowed one. Leave one out"),
        (lambda: drape.sit("ferry-warden-round", seed=-1), "seed: got -1, allowed a whole number from 0 to 999999999"),
        (lambda: drape.sit("ferry-warden-round", runs=21), "runs: got 21, allowed a whole number from 1 to 20"),
        (lambda: drape.sit("ferry-warden-round", runs=True), "runs: got True, allowed a whole number"),
        (lambda: drape.mend("ferry-warden-round", jobs=0), "jobs: got 0, allowed a whole number from 1 to 64"),
        (lambda: drape.mend("ferry-warden-round", tries=0), "tries: got 0, allowed a whole number from 1 to 200"),
        (lambda: drape.compare("ferry-warden-round"), "compare: got one scene, allowed two to 6. Name another"),
    ],
)
def test_what_cannot_be_done_is_refused_in_a_line(ask: Callable[[], Any], words: str) -> None:
    with pytest.raises(drape.SceneError) as caught:
        ask()
    assert words in str(caught.value) and "\n" not in str(caught.value)


def test_too_many_scenes_are_refused() -> None:
    with pytest.raises(drape.SceneError, match="got 7 drafts, allowed two to 6. Name fewer"):
        check_count(7)


def test_the_size_of_triangles_is_as_asked_or_the_scenes() -> None:
    scene = replace(load_scene("ferry-warden-round"), edge_length=0.015)
    assert edge_length_of(scene, None, None) == 0.015
    assert edge_length_of(scene, None, 6) == 0.06
    sizes = {"quick": 0.03, "fair": 0.015, "fine": 0.0075}
    assert {name: edge_length_of(scene, name, None) for name in sizes} == pytest.approx(sizes)
    assert mending_edge_length_of(scene, None, None) == pytest.approx(0.03)
    assert mending_edge_length_of(replace(scene, edge_length=0.05), None, None) == 0.05
    assert mending_edge_length_of(scene, "fine", None) == pytest.approx(0.0075)


def test_scenes_of_one_name_are_told_apart_and_others_left() -> None:
    scene = load_scene("ferry-warden-round")
    found = distinct([replace(scene, name=name) for name in ("a", "b", "a", "a")])
    assert [one.name for one in found] == ["a", "b", "a-2", "a-3"]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, cone: Callable[..., Fitting]) -> list[dict[str, Any]]:
    """What is asked of the runner, which answers with a cone that has no fault."""
    found: list[dict[str, Any]] = []

    def pretend(
        scene: drape.Scene, *, progress: object, before: object, early: object, most_steps: object, **given: Any
    ) -> Fitting:
        found.append({"scene": scene, **given})
        return cone(name=scene.name, readings={"scene": scene.name, "settled": True, **QUIET})

    monkeypatch.setattr("drape.fitting.settling_process.sit", pretend)
    return found


def test_a_name_a_path_and_a_scene_are_the_same(asked: list[dict[str, Any]], tmp_path: Path) -> None:
    scene = drape.load_scene("ferry-warden-round")
    path = tmp_path / "mine.toml"
    path.write_text(drape_text("ferry-warden-round"), encoding="utf-8")
    for one in ("ferry-warden-round", scene, path, str(path)):
        drape.sit(one, quality="quick", seed=3, runs=2, cached=False, jobs=1)  # runs count, not starts
    assert [one["scene"].style for one in asked] == [scene.style] * 8
    assert [one.pop("scene").name for one in asked] == ["ferry-warden-round"] * 4 + ["mine"] * 4
    assert asked == [{"edge_length": pytest.approx(0.03), "seed": seed, "cached": False} for seed in (3, 4)] * 4


def drape_text(name: str) -> str:
    """The text of a shipped scene."""
    from drape.fitting.scene import scene_file

    return scene_file(name).read_text(encoding="utf-8")


def test_drafts_are_compared_settled_alike(asked: list[dict[str, Any]]) -> None:
    both = drape.compare("ferry-warden-round", "ferry-warden-round", edge_length_cm=6, seed=2, jobs=1)
    assert [one.name for one in both.fittings] == ["ferry-warden-round", "ferry-warden-round-2"]
    assert [(one["edge_length"], one["seed"]) for one in asked] == [(0.06, 2)] * 2
    assert repr(both).count("settled") == 2


# --- examples ---------------------------------------------------------------------------------


def examples() -> list[doctest.DocTest]:
    """Every example in a docstring or on a page of the guide."""
    find, found = doctest.DocTestFinder(exclude_empty=True), []
    for path in WITH_EXAMPLES:
        if path.suffix == ".md":
            found.append(doctest.DocTestParser().get_doctest(page(path.stem), {}, f"guide {path.stem}", path.name, 0))
        else:
            parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
            found += find.find(importlib.import_module(".".join(part for part in parts if part != "__init__")))
    return [one for one in found if one.examples]


def test_no_example_is_passed_over() -> None:
    names = [one.name for one in examples()]
    assert set(names) >= {
        "drape",
        "guide notebook",
        *(f"drape.fitting.front_door.{n}" for n in ("sit", "compare", "mend")),
    }
    stand = sum(len(re.findall(r"^ *>>> ", path.read_text("utf-8"), re.MULTILINE)) for path in WITH_EXAMPLES)
    assert sum(len(one.examples) for one in examples()) == stand


@pytest.mark.long
def test_every_example_does_what_it_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """One after another in one test, so that a cloak is settled once for all of them."""
    monkeypatch.chdir(tmp_path)
    said: list[str] = []
    for example in examples():
        doctest.DocTestRunner(optionflags=doctest.ELLIPSIS, verbose=False).run(example, out=said.append)
    assert said == [], "".join(said)


def test_the_check_of_examples_can_fail() -> None:
    wrong = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", "wrong", 0)
    assert doctest.DocTestRunner(verbose=False).run(wrong, out=lambda _: None).failed == 1


def test_the_readme_has_no_example_in_python() -> None:
    """Its commands are run by `test_readme`."""
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    assert not re.search(r">>> |^ +import |^```", readme, re.MULTILINE)
