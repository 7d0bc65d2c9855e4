"""What is kept comes back equal to the byte; anything wrong with the folder is no error and no result."""

from __future__ import annotations

import functools
import os
import sys
from collections import OrderedDict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from drape import cache
from drape.body.figure import Figure
from drape.cache import cache_folder, content_key, keep, kept, make_room, recall
from drape.errors import NotSettledError
from drape.fitting import sit as fitting
from drape.fitting.scene import load_scene
from drape.fitting.sit import figure_of, sit


@dataclass(frozen=True)
class Piece:
    name: str
    flat: np.ndarray
    seams: tuple[tuple[int, float], ...]
    marks: dict[str, np.ndarray]
    print: bytes = b""


PIECE = Piece(
    "half",
    np.arange(6.0).reshape(3, 2),
    ((1, 0.1), (2, -0.0)),
    {"z": np.array([3]), "a": np.zeros((0, 2))},
    b"\x00\xff",
)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(cache, "_at_hand", OrderedDict())
    return tmp_path / "cache" / "kept"


@pytest.fixture(scope="module")
def figure() -> Figure:
    """The ferry warden's, from the folder that all tests share."""
    return figure_of(load_scene("ferry-warden-round"))


@pytest.fixture
def built(figure: Figure, monkeypatch: pytest.MonkeyPatch) -> None:
    """The figure takes no time to build, where it is not kept."""
    monkeypatch.setattr(fitting, "build_figure", functools.wraps(fitting.build_figure)(lambda *_, **__: figure))


def cut(name: str, scale: float = 1.0) -> Piece:
    """Says in `called` that it was called."""
    called.append(name)
    return replace(PIECE, name=name, flat=scale * PIECE.flat)


called: list[str] = []


def test_what_is_kept_comes_back_whole_and_in_order() -> None:
    key = content_key("piece", 1)
    assert recall(key, (Piece,)) is None
    keep(key, PIECE)
    found = recall(key, (Piece,))
    assert isinstance(found, Piece)
    assert (found.name, found.seams, found.print) == (PIECE.name, PIECE.seams, PIECE.print)
    assert list(found.marks) == ["z", "a"] and found.marks["a"].shape == (0, 2)
    assert found.flat.dtype == PIECE.flat.dtype and found.flat.tobytes() == PIECE.flat.tobytes()
    assert np.copysign(1.0, found.seams[1][1]) == -1.0


class Notch(NamedTuple):
    place: float
    sides: np.ndarray


def test_a_named_tuple_comes_back_as_one() -> None:
    key = content_key("notch", 1)
    keep(key, {"first": Notch(0.5, np.arange(4.0))})
    found = recall(key, (Notch,))
    assert isinstance(found["first"], Notch)
    assert found["first"].place == 0.5 and found["first"].sides.tobytes() == np.arange(4.0).tobytes()
    assert content_key(Notch(0.5, PIECE.flat)) != content_key((0.5, PIECE.flat))


def test_any_difference_of_content_is_another_key(monkeypatch: pytest.MonkeyPatch) -> None:
    flat = PIECE.flat.copy()
    flat[2, 1] = np.nextafter(flat[2, 1], 9.0)
    several = [
        PIECE, replace(PIECE, flat=flat), replace(PIECE, flat=PIECE.flat.reshape(2, 3)), replace(PIECE, name="whole"),
        replace(PIECE, flat=PIECE.flat.astype(np.float32)), replace(PIECE, seams=((1, 0.1), (2, 0.0))), [PIECE],
    ]  # fmt: skip
    keys = [content_key(one) for one in several]
    assert len(set(keys)) == len(keys)
    assert content_key(replace(PIECE, flat=PIECE.flat.copy(order="F"))) == keys[0]
    monkeypatch.setattr(cache, "program_digest", lambda: "another source")
    assert content_key(PIECE) != keys[0]


def test_an_edited_source_or_another_library_is_another_program(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "keep.py").write_text("a = 1\n")
    monkeypatch.setattr(cache, "__file__", str(tmp_path / "keep.py"))
    digests = [cache.program_digest.__wrapped__()]
    (tmp_path / "keep.py").write_text("a = 2\n")
    digests.append(cache.program_digest.__wrapped__())
    (tmp_path / "other.py").write_text("")
    digests.append(cache.program_digest.__wrapped__())
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "inner.py").write_text("")
    digests.append(cache.program_digest.__wrapped__())
    monkeypatch.setattr("importlib.metadata.version", lambda _: "0")
    digests.append(cache.program_digest.__wrapped__())
    assert len(set(digests)) == 5


def test_kept_calls_once_in_this_process_and_in_the_next(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    called.clear()
    first = kept(cut, (Piece,), {"name": "front"})
    assert kept(cut, (Piece,), {"name": "front"}) is first
    monkeypatch.setattr(cache, "_at_hand", OrderedDict())  # as in another process
    assert kept(cut, (Piece,), {"name": "front"}).flat.tobytes() == first.flat.tobytes()
    assert called == ["front"]
    kept(cut, (Piece,), {"name": "front", "scale": 2.0})
    assert called == ["front", "front"]
    assert len(list(folder.iterdir())) == 2


@pytest.mark.parametrize("content", ["short", "flipped", b"", b"PK\x03\x04 cut short", b"words", "foreign", "renamed"])
def test_a_damaged_or_foreign_file_is_passed_over_and_written_again(folder: Path, content: bytes | str) -> None:
    key = content_key("piece")
    keep(key, PIECE)
    (path,) = folder.iterdir()
    whole = path.read_bytes()
    if content == "short":
        path.write_bytes(whole[: len(whole) // 2])
    elif content == "flipped":
        place = whole.index(PIECE.flat.tobytes()) + 20
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
    elif content == "foreign":
        with path.open("wb") as file:
            np.savez(file, flat=np.zeros(3))
    elif content == "renamed":
        keep(content_key("another"), replace(PIECE, name="another"))
        os.replace(folder / f"{content_key('another')}.npz", path)
    else:
        path.write_bytes(content)
    assert recall(key, (Piece,)) is None
    keep(key, PIECE)
    assert path.read_bytes() == whole
    assert recall(key, (Piece,)) is not None
    assert recall(key, ()) is None, "a class not asked for is not built"


def test_nothing_in_a_kept_file_is_run(folder: Path) -> None:
    key = content_key("piece")
    folder.mkdir(parents=True)
    with (folder / f"{key}.npz").open("wb") as file:
        np.savez(file, words=np.array([print], dtype=object))
    assert recall(key, (Piece,)) is None


def test_a_folder_that_cannot_be_written_is_no_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "a file").write_text("")
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "a file"))
    called.clear()
    first = kept(cut, (Piece,), {"name": "front"})
    assert kept(cut, (Piece,), {"name": "front"}) is first, "this process still has it"
    assert called == ["front"]
    assert (tmp_path / "a file").read_text() == ""


def test_a_write_that_fails_leaves_nothing(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("drape.cache.os.replace", full)
    keep(content_key("piece"), PIECE)
    assert list(folder.iterdir()) == []


def test_used_longest_ago_goes_first_and_strangers_stay(folder: Path) -> None:
    keys = [content_key("piece", k) for k in range(4)]
    for age, key in enumerate(keys):
        keep(key, PIECE)
        os.utime(folder / f"{key}.npz", (1000 + age, 1000 + age))
    (folder / "notes.npz").write_bytes(b"x" * 10_000)
    size = (folder / f"{keys[0]}.npz").stat().st_size
    assert recall(keys[0], (Piece,)) is not None  # oldest, but used just now
    make_room(folder, largest=2 * size)
    assert {path.stem for path in folder.iterdir()} == {keys[0], keys[3], "notes"}


def test_keeping_makes_room(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    monkeypatch.setattr(make_room, "__defaults__", (1,))
    keep(content_key("piece"), PIECE)
    assert list(folder.iterdir()) == []


def test_what_cannot_be_packed_is_refused() -> None:
    for value in (object(), {1: 2}, np.array([None]), {"a": {3}}):
        with pytest.raises(TypeError, match="keep: got"):
            content_key(value)


@pytest.mark.parametrize(
    ("system", "said", "wanted"),
    [
        ("linux", {}, ".cache/drape"),
        ("linux", {"XDG_CACHE_HOME": "xdg"}, "xdg/drape"),
        ("darwin", {}, "Library/Caches/drape"),
        ("win32", {"LOCALAPPDATA": "Local"}, "Local/drape"),
        ("linux", {"XDG_CACHE_HOME": "xdg", "DRAPE_CACHE_DIR": "mine"}, "mine"),
    ],
)
def test_the_cache_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, system: str, said: dict[str, str], wanted: str
) -> None:
    """XDG Base Directory Specification 0.8; macOS and Windows: their usual places, from memory."""
    monkeypatch.setattr(sys, "platform", system)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    for variable in ("DRAPE_CACHE_DIR", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(variable, raising=False)
    for variable, place in said.items():
        monkeypatch.setenv(variable, str(tmp_path / place))
    assert cache_folder() == tmp_path / wanted


def test_a_relative_xdg_folder_is_passed_over(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """XDG Base Directory Specification 0.8: a relative path is to be considered invalid and ignored."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    for variable in ("DRAPE_CACHE_DIR", "LOCALAPPDATA"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    assert cache_folder() == tmp_path / ".cache" / "drape"


@pytest.mark.usefixtures("built")
def test_a_figure_comes_back_equal_to_the_byte(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = load_scene("ferry-warden-round")
    first = figure_of(scene)
    monkeypatch.setattr(cache, "_at_hand", OrderedDict())
    again = figure_of(scene)
    assert again is not first
    assert content_key(again) == content_key(first)
    assert again.field.values.flags.carray and first.field.values.flags.carray, "one compiled kernel serves both"
    assert type(again.filled) is tuple


@pytest.mark.usefixtures("built")
@pytest.mark.long
def test_an_unsettled_run_is_not_kept(folder: Path) -> None:
    scene = replace(load_scene("ferry-warden-round"), max_steps=100)
    for _ in range(2):
        with pytest.raises(NotSettledError):
            sit(scene, edge_length=0.12)
    assert len(list(folder.iterdir())) == 2, "figure and mesh"


@pytest.mark.usefixtures("built")
@pytest.mark.long
def test_words_and_colours_may_change_and_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    scene = load_scene("ferry-warden-round")
    with pytest.raises(NotSettledError) as caught:
        sit(replace(scene, max_steps=100), edge_length=0.12)
    runs = []
    monkeypatch.setattr("drape.fitting.sit.sit_afresh", lambda scene, **_: runs.append(scene) or caught.value.fitting)
    sit(scene, edge_length=0.12)
    other = replace(scene, name="pageant", title="Red", expect="", colours={**scene.colours, "outside": "#aa0000"})
    found = sit(other, edge_length=0.12)
    assert found.is_recalled and len(runs) == 1
    assert (found.name, found.title, found.readings["scene"], found.colours["outside"]) == (
        "pageant",
        "Red",
        "pageant",
        "#aa0000",
    )
    assert found.worn.tobytes() == caught.value.fitting.worn.tobytes()
    assert found.draft.style == caught.value.fitting.draft.style
    for changed, seed in ((replace(scene, cloth=replace(scene.cloth, thickness=0.004)), 0), (scene, 1)):
        assert sit(changed, edge_length=0.12, seed=seed).is_recalled is False
    assert sit(scene, edge_length=0.05).is_recalled is False
    assert sit(scene, edge_length=0.12, cached=False).is_recalled is False
    assert len(runs) == 5


def test_two_drafts_on_one_body_share_a_figure_though_nothing_can_be_written(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "a file").write_text("")
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "a file"))
    built = []

    @functools.wraps(fitting.build_figure)
    def counted(tape: object, *, name: str, **given: object) -> str:
        built.append(name)
        return f"figure {len(built)}"

    monkeypatch.setattr(fitting, "build_figure", counted)
    first, second = load_scene("ferry-warden-round"), load_scene("ferry-warden-tailored")
    assert figure_of(first) == figure_of(second) == "figure 1"
    taller = replace(first, tape={**first.tape, "stature": first.tape["stature"] + 1e-9})
    assert figure_of(taller) == "figure 2"
