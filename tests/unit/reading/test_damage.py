"""Damage: whatever is wrong with a saved fitting is told when it is loaded, in a line, and a sound one is let be."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from mutated import mutated_fitting

from drape.errors import SceneError
from drape.reading.result import Fitting, load_fitting

Cone = Callable[..., Fitting]
READINGS = {
    "scene": "cone", "settled": True, "residual": 0.001, "neck": {"gap_front_cm": 1.2, "gap_front_cm_spread": None},
    "crowding": {"at_cm": [1.0, 2.0]}, "dart": [{"place": "left shoulder", "intake_cm": 9.5}], "remarks": [],
    "verdicts": [{"where": "neck", "finding": "gapes", "mend": "", "likely_percent": None}],
}  # fmt: skip
ABOUT = {
    "grain": 0.0, "body": "A", "sex": "man", "stature": 1.7, "layers": ["melton"], "cloth": {"name": "melton"},
    "dimensions": {"hem_radius": 1.3}, "hem_tips": [0],
    "fastening": {"kind": "", "closure": ["front opening"], "places": [], "diameter": 0.0, "overlap": 0.0},
}  # fmt: skip


def load_changed(
    cone: Cone, folder: Path, change: Callable[[dict[str, Any]], None], words: dict[str, Any] | None = None
) -> Fitting:
    path = cone(readings=READINGS, about=ABOUT).save(folder)
    with np.load(path) as stored:
        arrays = {name: stored[name] for name in stored.files}
    arrays["words"] = np.array(json.dumps(json.loads(str(arrays["words"])) | (words or {})))
    change(arrays)
    np.savez(path, **arrays)
    return load_fitting(path)


def put(name: str, place: Any, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(arrays: dict[str, Any]) -> None:
        arrays[name] = arrays[name].copy()
        arrays[name][place] = value

    return change


def replaced(name: str, value: Any) -> Callable[[dict[str, Any]], None]:
    return lambda arrays: arrays.__setitem__(name, value)


def test_a_sound_one_is_let_be(cone: Cone, tmp_path: Path) -> None:
    fitting = load_changed(cone, tmp_path, lambda arrays: None, {"readings": {**READINGS, "new": {"kind": [None]}}})
    assert fitting.about == ABOUT and fitting.readings["new"] == {"kind": [None]}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (put("worn", (3, 1), np.nan), "worn holds no places"),
        (put("figure_vertices", 0, 1e30), "figure_vertices holds no places"),
        (put("triangles", (0, 0), 99_999), "triangles are no triangles"),
        (put("triangles", (0, 0), -1), "triangles are no triangles"),
        (put("edge hem", 2, 99_999), "edge hem is no edge"),
        (replaced("edge hem", np.array([0.5, 1.5])), "edge hem is no edge"),
        (replaced("worn", np.zeros((4, 2))), "worn holds no places"),
        (replaced("flat", np.zeros((4, 2))), "flat and worn differ in length"),
        (replaced("neck_base", np.array(["a", "b"])), "neck_base holds no places"),
        (replaced("landmark crown", np.zeros(2)), "landmark crown is no place"),
        (lambda arrays: arrays.pop("edge hem"), "the hem is missing"),
        (lambda arrays: arrays.pop("neck_base"), "cannot be read"),
        (replaced("words", np.array("[" * 100_000)), "cannot be read"),
        (replaced("words", np.array('{"a": ' + "9" * 5000 + "}")), "cannot be read"),
    ],
)
def test_damaged_arrays_are_told(
    cone: Cone, tmp_path: Path, change: Callable[[dict[str, Any]], None], says: str
) -> None:
    with pytest.raises(SceneError, match=f"not a saved fitting, or a damaged one: {says}. Give"):
        load_changed(cone, tmp_path, change)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"title": 5}, "title is not"), ({"title": "a\nb"}, "title is not"), ({"expect": "\x1b[2J"}, "expect is not"),
        ({"readings": []}, "readings is not"),
        ({"thickness": float("nan")}, "thickness is not"),
        ({"levels": {"hip": "0.8"}}, "levels is not"), ({"colours": {"outside": "red"}}, "colours is not"),
        ({"extra": 1}, "extra is not"), ({"about": {**ABOUT, "layers": "melton"}}, "about is not"),
        ({"about": {**ABOUT, "hem_tips": [99_999]}}, "about is not"),
        ({"about": {**ABOUT, "fastening": {**ABOUT["fastening"], "closure": ["nowhere"]}}}, "about is not"),
        ({"about": {**ABOUT, "fastening": {**ABOUT["fastening"], "kind": "a nail"}}}, "about is not"),
        ({"readings": {**READINGS, "neck": [1]}}, "the reading neck is not"),
        ({"readings": {**READINGS, "neck": {"gap_front_cm": "wide"}}}, "the reading neck.gap_front_cm is not"),
        ({"readings": {**READINGS, "verdicts": [{"where": {}}]}}, "the reading verdicts.where is not"),
        ({"readings": {**READINGS, "dart": {}}}, "the reading dart is not"),
        ({"readings": {**READINGS, "settled": "yes"}}, "the reading settled is not"),
        ({"readings": {**READINGS, "remarks": [1]}}, "the reading remarks is not"),
    ],
)  # fmt: skip
def test_damaged_words_are_told(cone: Cone, tmp_path: Path, words: dict[str, Any], says: str) -> None:
    with pytest.raises(SceneError, match=f"damaged one: {says}"):
        load_changed(cone, tmp_path, lambda arrays: None, words)


def test_bytes_that_are_cut_short_or_changed_are_told(cone: Cone, tmp_path: Path) -> None:
    path = cone().save(tmp_path)
    whole = path.read_bytes()
    for place in range(0, len(whole), len(whole) // 25):
        path.write_bytes(whole[:place])
        with pytest.raises(SceneError, match="not a saved fitting"):
            load_fitting(path)
    path.write_bytes(whole[:40] + b"\xff" * 400 + whole[440:])
    with pytest.raises(SceneError, match="not a saved fitting"):
        load_fitting(path)


def test_whatever_is_changed_is_taken_or_told_in_a_line(cone: Cone, tmp_path: Path) -> None:
    whole = cone(readings=READINGS, about=ABOUT).save(tmp_path).read_bytes()
    path, taken = tmp_path / "changed.npz", 0
    for seed in range(120):
        path.write_bytes(mutated_fitting(whole, random.Random(seed)))
        try:
            taken += bool(load_fitting(path).title is not None)
        except SceneError as error:
            assert "not a saved fitting" in str(error) and "\n" not in str(error)
    assert 0 < taken < 120


def test_arrays_that_would_fill_the_memory_are_not_read(
    cone: Cone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = cone().save(tmp_path)
    monkeypatch.setattr("drape.reading.result.LARGEST", 10_000)
    with pytest.raises(SceneError, match="its arrays take [0-9]+ bytes, allowed 10000"):
        load_fitting(path)
