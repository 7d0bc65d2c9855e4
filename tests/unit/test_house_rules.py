"""Rules of the house that a machine can hold us to; the reasons stand in DEVELOPERS.md."""

from __future__ import annotations

import argparse
import ast
import functools
import re
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

import drape
from drape.command.arguments import build_parser
from drape.fitting.scene import shipped_folder

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "drape"
FILES = sorted(path for path in SOURCE.rglob("*.py") if not path.stem.startswith("__"))
PAGE = (path for ending in ("*.js", "*.css", "*.woff2") for path in SOURCE.rglob(ending))
DATA = (SOURCE / "cloths.toml", *sorted(PAGE), *sorted(SOURCE.rglob("*.html")))
MODULES = {".".join(path.relative_to(SOURCE).with_suffix("").parts): path for path in FILES}


@functools.cache
def trees() -> dict[str, ast.Module]:
    return {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in MODULES.items()}


# Data goes one way: a room imports from the rooms named beside it and from the ground files, never from another.
MAY_IMPORT = {
    "body": (),
    "draft": ("body",),
    "cutting": ("draft",),
    "cloth": ("body", "draft"),
    "reading": ("body", "draft", "cloth"),
    "fitting": ("body", "draft", "cutting", "cloth", "reading"),
    "bench": ("body", "cloth", "fitting"),
    "wearing": ("body", "draft", "cloth", "reading", "fitting"),
    "tracing": ("body", "draft", "cutting", "cloth", "reading", "fitting"),
    "picture": ("body", "cloth", "reading", "wearing"),
    "study": ("body", "draft", "cutting", "cloth", "reading", "fitting", "picture"),
    "book": ("body", "draft", "cutting", "reading", "fitting", "bench", "picture"),
    "command": ("body", "draft", "cutting", "cloth", "reading", "fitting", "bench", "wearing", "tracing",
                "picture", "study", "book"),
}  # fmt: skip
MOST_ROOMS, MOST_IN_A_ROOM = 13, 18


def room_of(name: str) -> str:
    """The room of a module, `cloth.sheet` or `drape.cloth.sheet`; empty for a ground file."""
    room, _, rest = name.removeprefix("drape.").partition(".")
    return room if rest or room in MAY_IMPORT else ""


def imports(tree: ast.AST) -> Iterator[str]:
    """Every module a file imports, wherever in it, in full: `drape.fitting.scene`, `numpy`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "write imports in full: from drape.fitting.scene import ..."
            yield node.module or ""
            if (node.module or "").partition(".")[0] == "drape":
                yield from (f"{node.module}.{alias.name}" for alias in node.names)


def ours(tree: ast.AST) -> set[str]:
    """The modules of ours that a file imports, as `cloth.sheet`."""
    return {name.removeprefix("drape.") for name in imports(tree) if name.startswith("drape.")} & set(MODULES)


def forbidden_imports(name: str, tree: ast.AST) -> list[str]:
    """What a module imports from a room that its own may not import from."""
    room = room_of(name)
    allowed = {"", room, *MAY_IMPORT.get(room, ())}
    return sorted(other for other in ours(tree) if room_of(other) not in allowed)


def where(found: Mapping[Any, list[Any]]) -> dict[Any, list[Any]]:
    """Only where something was found."""
    return {name: what for name, what in found.items() if what}


def test_there_are_few_rooms_and_none_is_crowded() -> None:
    rooms = Counter(room_of(name) for name in trees())
    assert set(rooms) - {""} == set(MAY_IMPORT)
    assert {path.name for path in SOURCE.iterdir() if (path / "__init__.py").is_file()} == set(MAY_IMPORT)
    assert len(MAY_IMPORT) <= MOST_ROOMS
    assert {room: count for room, count in rooms.items() if count > MOST_IN_A_ROOM} == {}


def test_a_room_imports_only_from_rooms_below_it() -> None:
    assert where({name: forbidden_imports(name, tree) for name, tree in trees().items()}) == {}


def test_the_rooms_form_no_circle() -> None:
    order = list(MAY_IMPORT)
    assert [
        (room, other) for room in order for other in MAY_IMPORT[room] if order.index(other) >= order.index(room)
    ] == []


def test_no_module_imports_itself_round_a_corner() -> None:
    assert circle({name: ours(without_types(tree)) for name, tree in trees().items()}) == []


def without_types(tree: ast.Module) -> ast.Module:
    """A module without what it imports for types alone, which is never run."""
    body = [node for node in tree.body if not (isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")]
    return ast.Module(body=body, type_ignores=[])


def circle(imported: dict[str, set[str]]) -> list[str]:
    """Modules left once every module that imports none of those left is taken away; empty without a circle."""
    left = dict(imported)
    while free := [name for name, others in left.items() if not others & set(left)]:
        for name in free:
            del left[name]
    return sorted(left)


def test_the_order_checks_can_fail() -> None:
    tree = ast.parse("def f():\n    from drape.command.main import main\n    from drape.fitting import sit\n")
    types = ast.parse("if TYPE_CHECKING:\n    from drape.fitting import sit\nfrom drape.fitting import mend\n")
    assert ours(types) == {"fitting.sit", "fitting.mend"} and ours(without_types(types)) == {"fitting.mend"}
    assert forbidden_imports("draft.cloak", tree) == ["command.main", "fitting.sit"]
    assert circle({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == ["a", "b", "c", "d"]


def test_a_room_says_in_a_sentence_what_comes_in_and_out_and_what_it_hands_on() -> None:
    uses = {name: ours(tree) for name, tree in trees().items()}
    for room in MAY_IMPORT:
        tree = ast.parse((SOURCE / room / "__init__.py").read_text(encoding="utf-8"))
        words = ast.get_docstring(tree) or ""
        assert words.endswith(".") and words.count(". ") == 0, room
        (handed,) = (ast.literal_eval(node.value) for node in tree.body if isinstance(node, ast.Assign))
        elsewhere = {name for other, used in uses.items() if room_of(other) != room for name in used}
        assert handed == sorted(name.partition(".")[2] for name in elsewhere if room_of(name) == room), room


def test_only_easel_and_a_notebooks_blocks_import_pyvista_and_none_goes_past_it() -> None:
    users = {name: {n.split(".")[0] for n in imports(without_types(tree))} for name, tree in trees().items()}
    assert {name for name, used in users.items() if "pyvista" in used} == {"picture.easel", "reading.blocks"}
    assert {name for name, used in users.items() if used & {"vtk", "vtkmodules"}} == set()


def loaded_by(code: str) -> set[str]:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT / "tests")
    return set(done.stdout.rpartition("LOADED")[2].split())


LIST_LOADED = "import sys; print('LOADED', *{name.partition('.')[0] for name in sys.modules})"
HEAVY = {"numpy", "scipy", "numba", "pyvista", "vtkmodules", "matplotlib", "netgen", "shapely", "trimesh", "PIL"}
HEAVY |= {"dask", "distributed", "pyarrow"}


def test_importing_drape_loads_nothing_heavy() -> None:
    assert loaded_by(f"import drape; {LIST_LOADED}") & HEAVY == set()


@pytest.mark.long
def test_what_settles_loads_nothing_that_draws_and_what_draws_nothing_that_settles() -> None:
    settles = "drape.command.run, drape.command.show, drape.command.output, drape.fitting.mend, drape.fitting.ensemble"
    assert loaded_by(f"import {settles}; {LIST_LOADED}") & {"pyvista", "vtkmodules", "matplotlib"} == set()
    draws = "drape.picture.make, drape.reading.result"
    assert loaded_by(f"import {draws}; {LIST_LOADED}") & {"numba", "netgen"} == set()


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["sit", "--help"], ["sit"], ["nonsense"]])
def test_help_and_usage_load_nothing_heavy(arguments: list[str]) -> None:
    code = (
        "import contextlib\nfrom drape.command.main import main\n"
        f"with contextlib.suppress(SystemExit): main({arguments!r})\n"
    )
    loaded = loaded_by(code + LIST_LOADED)
    assert "argparse" in loaded
    assert loaded & HEAVY == set()


def test_what_is_imported_is_declared_and_what_is_declared_is_imported() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = [*project["dependencies"], *project["optional-dependencies"]["study"]]
    names = {re.split(r"[<>=~! \[]", line)[0] for line in declared}
    called = {"netgen-mesher": "netgen", "pillow": "PIL", "vtk": "pyvista", "websockets": "uvicorn"}
    called["cryptography"] = "distributed"  # which makes keys with it
    imported = {n.split(".")[0] for tree in trees().values() for n in imports(tree)}
    assert {called.get(name, name) for name in names} == imported - set(sys.stdlib_module_names) - {"drape"}


def calls(tree: ast.AST) -> set[str]:
    return {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}


def test_only_commands_and_progress_print_and_none_exits() -> None:
    may_print = {"command.run", "command.cut", "command.show", "progress"}
    ends = {"print", "sys.exit", "exit", "quit", "os._exit", "os.abort"}
    assert where({name: sorted(calls(trees()[name]) & ends) for name in set(trees()) - may_print}) == {}


def test_no_asserts_stars_or_swallowed_options() -> None:
    """An assert checks nothing under `python -O`; `**options` swallows a misspelt one."""
    assert where({name: not_allowed(tree) for name, tree in trees().items()}) == {}


def not_allowed(tree: ast.AST) -> list[str]:
    nodes = list(ast.walk(tree))
    functions = [node for node in nodes if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))]
    stars = [node for node in nodes if isinstance(node, ast.ImportFrom) if any(a.name == "*" for a in node.names)]
    bare = [node for node in nodes if isinstance(node, ast.ExceptHandler) and node.type is None]
    asserts = [node for node in nodes if isinstance(node, ast.Assert)]
    swallow = [node for node in functions if node.args.kwarg is not None]
    return [f"line {node.lineno}: {type(node).__name__}" for node in (*asserts, *stars, *swallow, *bare)]


def test_the_search_for_asserts_stars_and_swallowed_options_can_fail() -> None:
    wrong = "assert x\nfrom a import *\ndef f(**b): ...\ntry: ...\nexcept: ...\n"
    assert len(not_allowed(ast.parse(wrong))) == 4 and not_allowed(ast.parse("from a import b\n")) == []


def long_lists(tree: ast.AST, most: int = 8) -> list[str]:
    """Functions of more parameters than that, `self`, `*args` and `**kwargs` counted like any other."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)):
            given = node.args
            count = len(given.posonlyargs) + len(given.args) + len(given.kwonlyargs)
            if count + (given.vararg is not None) + (given.kwarg is not None) > most:
                found.append(getattr(node, "name", f"lambda in line {node.lineno}"))
    return found


def test_no_function_has_more_than_eight_parameters() -> None:
    """What belongs together travels together: in a frozen dataclass, or a NamedTuple where a compiled loop takes it."""
    assert where({name: long_lists(tree) for name, tree in trees().items()}) == {}


def test_the_count_of_parameters_can_fail() -> None:
    tree = ast.parse(
        "def f(self, a, b, c, d, /, e, f, *, g): ...\ndef h(a, b, c, d, e, f, *g, i, **j): ...\nlambda *a: a"
    )
    assert long_lists(tree) == ["h"]
    assert long_lists(tree, 7) == ["f", "h"]


def test_every_module_says_what_goes_in_and_out() -> None:
    lines = {name: (ast.get_docstring(tree) or "").splitlines() for name, tree in trees().items()}
    assert [name for name, words in lines.items() if len(words) < 3] == []


# --- tests that can fail ----------------------------------------------------------------------


def is_check(node: ast.AST) -> bool:
    """An assert, or a call that is itself one: `pytest.raises(...)`, `assert_allclose(...)`."""
    if isinstance(node, ast.Call):
        called = ast.unparse(node.func).rpartition(".")[2]
        return called in ("raises", "warns") or called.startswith("assert_")
    return isinstance(node, ast.Assert)


def surely_checks(node: ast.AST) -> bool:
    """Whether something is checked whichever way every `if` goes; what a helper or a function within checks does not
    count.
    """
    if is_check(node):
        return True
    if isinstance(node, ast.If):
        return all(any(map(surely_checks, way)) for way in (node.body, node.orelse))
    within = node.body if isinstance(node, ast.FunctionDef) else ast.iter_child_nodes(node)
    return any(surely_checks(inner) for inner in within if not isinstance(inner, (ast.FunctionDef, ast.Lambda)))


def unsure_tests(tree: ast.AST) -> list[str]:
    found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")]
    return [node.name for node in found if not surely_checks(node)]


def test_no_test_checks_only_under_an_if() -> None:
    files = sorted((ROOT / "tests").rglob("test_*.py"))
    assert where({path: unsure_tests(ast.parse(path.read_text(encoding="utf-8"))) for path in files}) == {}


def test_the_search_for_such_tests_can_fail() -> None:
    under_an_if = "def test_a():\n    for x in y:\n        if x:\n            assert x > 0\n"
    both_ways = "def test_b():\n    if x:\n        assert x\n    else:\n        with raises(E):\n            f()\n"
    one_way = both_ways.replace("test_b", "test_c").replace("with raises(E):\n            ", "")
    nothing = (
        "def test_d():\n    f()\n\ndef helper():\n    f()\n\ndef test_e():\n    def g():\n        assert x\n    g()\n"
    )
    found = unsure_tests(ast.parse(under_an_if + both_ways + one_way + nothing))
    assert found == ["test_a", "test_c", "test_d", "test_e"]


# --- commands and documents -------------------------------------------------------------------


def flags(command: argparse.ArgumentParser) -> Iterator[str]:
    """Every flag of a command, and of the kinds it may be followed by."""
    for action in command._actions:
        yield from (flag for flag in action.option_strings if flag.startswith("--"))
        if isinstance(action, argparse._SubParsersAction):
            for kind in action.choices.values():
                yield from flags(kind)


def test_every_command_has_help_and_an_example() -> None:
    (commands,) = (a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction))
    assert {
        name for name, c in commands.choices.items() if not c.description or f"drape {name}" not in (c.epilog or "")
    } == set()
    assert len(commands._choices_actions) == len(commands.choices)
    for command in commands.choices.values():
        assert [a.dest for a in command._actions if not a.help] == []


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_a_document_names_no_command_or_flag_that_is_not_there(name: str) -> None:
    """Every key, command and flag is explained in the guide, which `test_topics` holds to the code."""
    text = (ROOT / name).read_text(encoding="utf-8")
    (commands,) = (a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction))
    assert set(re.findall(r"`drape ([a-z]+)", text)) <= set(commands.choices)
    known = {flag for command in commands.choices.values() for flag in flags(command)}
    drape_lines = "\n".join(line for line in text.splitlines() if "drape " in line and "tests/bench" not in line)
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", drape_lines)) <= known | {"--version"}


@pytest.mark.parametrize(("name", "most"), [("README.md", 9_000), ("DEVELOPERS.md", 14_000)])
def test_a_document_stays_short(name: str, most: int) -> None:
    assert len((ROOT / name).read_text(encoding="utf-8")) <= most


# --- the repository ---------------------------------------------------------------------------

TEXTS = sorted(
    path
    for folder in ("drape", "bodies", "scenes", "tests", ".ci")
    for path in (ROOT / folder).rglob("*")
    if path.suffix in (".py", ".toml", ".md", ".csv", ".ipynb", "")
    and path.is_file()
    and "__pycache__" not in path.parts
) + [ROOT / name for name in ("README.md", "CHANGELOG.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", ".gitignore")]

# Written in halves, so that this file may be searched as well.
BORROWED_WORDS = (
    "ava" "tar", "garment sim" "ulation", "pattern win" "dow", "particle dis" "tance", "strain m" "ap", "stress m" "ap",
    "pressure m" "ap", "fit m" "ap", "colour" "way", "color" "way", "tech p" "ack", "rain" "bow", "j" "et map",
)  # fmt: skip
MACHINE_PATHS = (
    "/ho" "me/", "/ro" "ot/", "/Us" "ers/", "/wo" "rk/", "../sha" "red", "/t" "mp/", "pythonhos" "ted", "py" "pi.org",
)  # fmt: skip


def found_in(words: tuple[str, ...], text: str) -> list[str]:
    return [word for word in words if word.lower() in text.lower()]


def test_no_borrowed_words_and_no_path_of_a_machine() -> None:
    words = BORROWED_WORDS + MACHINE_PATHS
    assert where({path: found_in(words, path.read_text(encoding="utf-8")) for path in TEXTS}) == {}


NAMED_TEST = re.compile(r"tests/(?:unit|published|end_to_end|bench)/[\w/]+\.(?:py|md)")


def test_every_test_that_is_named_is_there() -> None:
    named = {path: sorted(set(NAMED_TEST.findall(path.read_text(encoding="utf-8")))) for path in TEXTS}
    lacking = {path: [name for name in names if not (ROOT / name).is_file()] for path, names in named.items()}
    assert where(lacking) == {}


def test_the_word_search_can_fail() -> None:
    assert len(TEXTS) > 30
    assert NAMED_TEST.findall("held by tests/unit/cloth/test_sheet.py.") == ["tests/unit/cloth/test_sheet.py"]
    halves = ("colour", "way"), ("/ho", "me/")
    word, place = ("".join(both) for both in halves)
    assert found_in(BORROWED_WORDS, f"A {word.title()} of wool") == [word]
    assert found_in(MACHINE_PATHS, f"open {place}warden/x") == [place]


def test_the_copy_under_test_is_this_checkout() -> None:
    """pytest imports the installed drape. An install that is out of date would test old code."""
    installed = Path(drape.__file__).parent
    names = [str(path.relative_to(SOURCE)) for path in (*FILES, *DATA)]
    differ = [name for name in names if (installed / name).read_bytes() != (SOURCE / name).read_bytes()]
    for kind, folder in (("scene", "scenes"), ("body", "bodies")):
        for path in (ROOT / folder).glob("*.toml"):
            if (shipped_folder(kind) / path.name).read_bytes() != path.read_bytes():
                differ.append(f"{folder}/{path.name}")
    assert differ == [], "install again: pip install '.[test]'"
