"""What is typed in the order comes out in the scene's text, or is refused with the line a file would get."""

from __future__ import annotations

import tomllib

import pytest

from drape.book.entries import plain
from drape.book.order import Order, with_changes, with_typed
from drape.errors import SceneError
from drape.fitting.scene import load_scene, shipped_folder

TEXT = (shipped_folder("scene") / "ferry-warden-tailored.toml").read_text(encoding="utf-8")


def order_of(text, typed=None):
    scene = load_scene("ferry-warden-tailored")
    return Order(plain(text), scene, None, typed or {}, [("ferry-warden", "Ferry warden")], [("flannel", "flannel")])


def test_every_field_has_words_and_the_value_the_scene_has():
    found = order_of(TEXT).fields()
    assert all(field.words for field in found.values())
    assert found["draft.length_cm"].value == "112" and found["draft.length_cm"].unit == "cm"
    assert found["cloth.cloth"].value == "heavy melton" and found["closure.place"].value == "right shoulder"
    assert found["dart.is"].value == "yes" and found["collar.is"].value == "no" and found["dags.kind"].value == ""


def test_what_was_typed_and_not_taken_stands_in_its_field_with_the_reason():
    field = order_of(TEXT, {"draft.length_cm": ("1120", "Got 1120.")}).fields()["draft.length_cm"]
    assert (field.value, field.message) == ("1120", "Got 1120.")


@pytest.mark.parametrize(
    ("name", "typed", "table", "key", "value"),
    [
        ("draft.length_cm", "100.5", "draft", "length_cm", 100.5),
        ("title", "Another", None, "title", "Another"),
        ("draft.level", "true", "draft", "level", True),
        ("closure.overlap_cm", "3", "closure", "overlap_cm", 3.0),
        ("figure.chest_girth_cm", "101", "figure", "chest_girth_cm", 101.0),
        ("draft.length_how", "knee", "draft", "length_to", "knee"),
        ("collar.is", "yes", "collar", "height_cm", 4.5),
        ("lining.cloth", "flannel", "lining", "cloth", "flannel"),
        ("closure.place", "centre front", "closure", "place", "centre front"),
        ("draft.neck", "round", "draft", "neck", "round"),
    ],
)
def test_what_is_typed_is_written_and_every_note_is_kept(tmp_path, name, typed, table, key, value):
    text = with_typed(TEXT, name, typed, None)
    document = tomllib.loads(text)
    assert (document if table is None else document[table])[key] == value
    assert text.startswith("# The ferry warden's cloak as a tailor cuts it")
    path = tmp_path / "scene.toml"
    path.write_text(text, encoding="utf-8")
    assert load_scene(path).name == "scene"


def test_an_emptied_field_is_left_out():
    text = with_typed(with_typed(TEXT, "dart.0.length_cm", "17", None), "dart.0.length_cm", " ", None)
    assert "length_cm" not in tomllib.loads(text)["dart"][0]


def test_dags_are_put_on_and_taken_off():
    with_them = with_typed(TEXT, "dags.kind", "round", None)
    assert tomllib.loads(with_them)["dags"] == [{"edge": "hem", "width_cm": 9.0, "depth_cm": 6.0, "kind": "round"}]
    assert "dags" not in tomllib.loads(with_typed(with_them, "dags.kind", "", None))


def test_another_wearer_has_none_of_the_measures_of_the_one_before():
    text = with_typed(with_typed(TEXT, "figure.stature_cm", "180", None), "figure.body", "lamp-bearer", None)
    assert tomllib.loads(text)["figure"] == {"body": "lamp-bearer"}


@pytest.mark.parametrize(
    ("name", "typed", "message"),
    [
        ("draft.length_cm", "1120", r"draft\.length_cm: got 1120, allowed 15 to 200 cm\. If this is in millimetres"),
        ("draft.length_cm", "1,5", r"draft\.length_cm: got \"1,5\".*Write a point"),
        ("draft.length_cm", "nan", r"draft\.length_cm: got \"nan\", allowed a number"),
        ("draft.sewn_cm", "3", "book: got a field called"),
        ("verdict.gap_cm", "1e9", r"verdict\.gap_cm: got"),
        ("dart.7.length_cm", "3", "dart: there is no number 8"),
        ("__class__.x", "3", "book: got a field called"),
    ],
)
def test_what_cannot_be_is_refused_as_in_a_file(name, typed, message):
    with pytest.raises(SceneError, match=message):
        with_typed(TEXT, name, typed, None)


def test_what_a_verdict_says_to_write_is_written():
    changes = [
        {"table": "closure", "place": None, "key": "overlap_cm", "write": 3.5, "was": 0.0},
        {"table": "dart", "place": "left shoulder", "key": "intake_cm", "write": 8.0, "was": 9.5},
        {"table": "draft", "place": None, "key": "length_cm", "write": None, "was": 112.0},
    ]
    document = tomllib.loads(with_changes(TEXT, changes, ["left shoulder"]))
    assert document["closure"]["overlap_cm"] == 3.5 and document["dart"][0]["intake_cm"] == 8.0
    assert "length_cm" not in document["draft"]


def test_a_dart_that_is_not_there_is_put_in():
    plain_text = with_typed(TEXT, "dart.is", "no", None)
    change = {"table": "dart", "place": "left shoulder", "key": "intake_cm", "write": 8.0, "was": None}
    assert tomllib.loads(with_changes(plain_text, [change], []))["dart"] == [
        {"place": "left shoulder", "intake_cm": 8.0}
    ]


@pytest.mark.parametrize(("name", "said"), [("dart.intake_cm", "got no number"), ("draft.0.sweep_deg", "no number 1")])
def test_a_field_of_a_table_that_is_otherwise_is_refused(name: str, said: str) -> None:
    """No page sends such a name; a forged request may."""
    with pytest.raises(SceneError, match=said):
        with_typed(TEXT, name, "", None)
