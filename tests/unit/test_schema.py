"""Values in a file: in range and in SI, or refused with a line that says what to write."""

from __future__ import annotations

import math
import warnings
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drape.errors import OldKeyWarning, SceneError
from drape.schema import (
    LARGEST_FILE,
    LONGEST_LINE,
    MOST_ROWS,
    SLIPS,
    Colour,
    Number,
    Switch,
    Table,
    Text,
    checked_keys,
    checked_tables,
    either,
    nearest_hint,
    plain_number,
    read_toml,
    shown,
)
from drape.units import UNITS

KNOWN = {
    "length_cm": Number(15, 200), "slope_deg": Number(0, 60), "count": Number(1, 9, plain=True, whole=True),
    "share": Number(0, 0.5, plain=True), "weights_g": Number(0.1, 500, several=True),
    "place": Text(choices=("left", "right")), "title": Text(), "note": Text(lines=True), "outside": Colour(),
    "level": Switch(),
}  # fmt: skip


def complaint(key: str, value: object) -> str:
    with pytest.raises(SceneError) as caught:
        checked_keys({key: value}, KNOWN, "mine.toml", "draft")
    line = str(caught.value)
    assert line.startswith(f"mine.toml, draft.{key}: ") and "\n" not in line
    return line


def test_numbers_come_out_in_si_under_their_bare_names() -> None:
    row = {"length_cm": 41, "slope_deg": 180.0 / 4, "count": 3, "share": 0.25, "weights_g": [12.5, 13]}
    assert checked_keys(row, KNOWN, "f", "t") == {
        "length": 0.41, "slope": pytest.approx(math.pi / 4), "count": 3, "share": 0.25, "weights": (0.0125, 0.013),
    }  # fmt: skip


@given(value=st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**20), 10**20))
def test_a_number_is_taken_in_its_range_and_nowhere_else(value: float) -> None:
    if 15 <= value <= 200:
        assert checked_keys({"length_cm": value}, KNOWN, "f", "t") == {"length": value / 100.0}
    else:
        with pytest.raises(SceneError, match="allowed 15 to 200 cm"):
            checked_keys({"length_cm": value}, KNOWN, "f", "t")


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("length_cm", 1.1, "got 1.1, allowed 15 to 200 cm. If this is in metres, write 110.0."),
        ("length_cm", 1100, "got 1100, allowed 15 to 200 cm. If this is in millimetres, write 110.0."),
        ("length_cm", 14.999, "got 14.999, allowed 15 to 200 cm"),
        ("length_cm", 200.001, "got 200.001, allowed 15 to 200 cm"),
        ("length_cm", 9.0, "If this is in inches, write 22.86."),
        ("length_cm", "41,5", "Write a point, and no quotes: length_cm = 41.5."),
        ("length_cm", True, "allowed a number"),
        ("length_cm", float("nan"), "got nan, allowed a finite number"),
        ("length_cm", 10**400, "got a number of 401 digits"),
        ("count", 2.5, "got 2.5, allowed a whole number, 1 to 9"),
        ("share", 50, "got 50, allowed 0 to 0.5. Check the number"),
        ("place", "lefft", 'got "lefft", allowed "left" or "right". Did you mean "left"?'),
        ("title", " ", 'got "", allowed a text that is not empty'),
        ("title", "a\nb", "allowed printable text"),
        ("title", 7, 'Write title = "..."'),
        ("outside", "#12345", "allowed #000000 to #ffffff"),
        ("level", "true", "allowed true or false. Write level = true, without quotes."),
    ],
)
def test_what_is_refused_says_what_to_write(key: str, value: object, says: str) -> None:
    assert says in complaint(key, value)


def test_what_a_slip_suggests_is_the_same_length_in_the_other_unit() -> None:
    """Millimetres, metres, inches, ounces: one of each in the key's own unit, by the definitions (inch 2.54 cm,
    ounce 28.35 g).
    """
    per = {
        "millimetres": 1e-3,
        "centimetres": 1e-2,
        "metres": 1.0,
        "inches": 0.0254,
        "radians": 1.0,
        "kilograms": 1.0,
        "ounces": 0.028349523,
        "milligrams": 1e-6,
        "kg/m²": 1.0,
        "oz/yd²": 0.028349523 / 0.9144**2,
        "gf/cm": 9.80665e-3 / 0.01,
        "kN/m": 1000.0,
    }
    for ending, slips in SLIPS.items():
        for name, size in slips:
            assert size == pytest.approx(per[name] * UNITS[ending].per_si, rel=2e-4), (ending, name)


def test_what_lies_on_the_limit_is_taken() -> None:
    assert [checked_keys({"length_cm": value}, KNOWN, "f", "t") for value in (15, 200)] == [
        {"length": 0.15},
        {"length": 2.0},
    ]


def test_colours_come_out_small_and_long_texts_may_have_lines() -> None:
    assert checked_keys({"outside": "#A1B2C3", "note": "a\nb"}, KNOWN, "f", "t") == {
        "outside": "#a1b2c3",
        "note": "a\nb",
    }


TABLES = {
    "draft": Table({"length_cm": Number(15, 200, required=True)}), "cloth": Table({"cloth": Text()},
     renamed={"preset": "cloth"}),
    "dart": Table({"place": Text()}, many=True), "tape": Table({"chest_girth_cm": Number(45, 180)}, partial=True,
     words={"bust": ("chest_girth_cm",)}),
}  # fmt: skip


def tables(document: dict) -> dict:
    return checked_tables(document, {"title": Text()}, TABLES, "mine.toml")


def test_tables_come_out_checked_and_those_not_written_empty() -> None:
    found = tables({"title": "a", "draft": {"length_cm": 100}, "dart": [{"place": "left"}, {}]})
    assert found == {
        "": {"title": "a"},
        "draft": {"length": 1.0},
        "cloth": {},
        "dart": [{"place": "left"}, {}],
        "tape": {},
    }


@pytest.mark.parametrize(
    ("document", "says"),
    [
        ({}, "draft.length_cm: "),
        ({"draft": 3}, "mine.toml, draft: got 3, allowed a table. Write [draft]."),
        ({"draft": {"length_cm": 100}, "dart": {}}, "Write [[dart]]."),
        (
            {"draft": {"length_cm": 100}, "dart": [{}, {"depth": 1}]},
            "mine.toml, dart 2.depth: unknown key. Known: place.",
        ),
        ({"draft": {"lenght_cm": 100}}, "unknown key. Nearest known: length_cm."),
        ({"draft": {"length_cm": 100, "cloth": "calico"}}, "unknown here. It belongs in [cloth]."),
        ({"draft": {"length_cm": 100}, "tape": {"bust_in": 36}}, "write chest_girth_cm = 91.44."),
        ({"draft": {"length_cm": 100}, "cloth": {"cloth": "a", "preset": "b"}}, "Leave preset out."),
    ],
    ids=range(8),
)
def test_a_file_that_is_not_as_the_tables_say_is_refused(document: dict, says: str) -> None:
    with pytest.raises(SceneError) as caught:
        tables(document)
    assert says in str(caught.value) and "\n" not in str(caught.value)


def test_an_old_name_is_read_with_one_warning() -> None:
    with pytest.warns(OldKeyWarning, match="mine.toml: preset is now called cloth"):
        assert tables({"draft": {"length_cm": 100}, "cloth": {"preset": "calico"}})["cloth"] == {"cloth": "calico"}
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert tables({"draft": {"length_cm": 100}, "cloth": {"cloth": "calico"}})["cloth"] == {"cloth": "calico"}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "got an empty file"),
        (b"a = 1\nb = 41,5\n", 'line 2: got "b = 41,5", with a comma in the number. Write a point: 41.5.'),
        (b"a = 1\nb =   # later\n", "line 2: got nothing after b =, allowed a number or a text in quotes"),
        (b"a = 1\n[b\n", "line 2: not TOML: "),
        (b"a = '\xff'", "got byte 5 that is not UTF-8 text"),
        (b"a = " + b"9" * 5000, f"line 1: got 5004 letters, allowed {LONGEST_LINE}"),
        (b"a = 1\n" + b"a." * 4000 + b"b = 1", "line 2: got 8005 letters"),
        (b"a." * 2400 + b"b = 1", "got tables more than 8 deep, allowed 8. Write [table]"),
        (b"a = " + b"[" * 2400 + b"]" * 2400, "recursion"),
        (b"a = " + b"[" * 20 + b"]" * 20, "got tables more than 8 deep"),
        (b"#" * (LARGEST_FILE + 1), f"got {LARGEST_FILE + 1} bytes, allowed {LARGEST_FILE}"),
    ],
    ids=range(11),
)
def test_what_is_no_toml_is_refused_with_its_line(tmp_path: Path, text: bytes, says: str) -> None:
    (tmp_path / "mine.toml").write_bytes(text)
    with pytest.raises(SceneError) as caught:
        read_toml(tmp_path / "mine.toml", "mine.toml")
    assert says in str(caught.value) and "\n" not in str(caught.value)


def test_values_are_shown_short_and_on_one_line() -> None:
    assert shown("a\nb") == '"a\\nb"' and shown(True) == "true" and len(shown("x" * 99)) == 60
    assert (plain_number(380.0), plain_number(0.03), plain_number(10**20)) == ("380", "0.03", "a number of 21 digits")
    assert either(("a", "b", "c")) == '"a", "b" or "c"' and either(()) == "none are shipped"
    assert (
        nearest_hint("meltn", ("melton", "calico")) == 'Did you mean "melton"?'
        and nearest_hint("zzz", ("melton",)) == ""
    )


@pytest.mark.parametrize("key", ["length_cm", "title", "outside", "level", "length", "lenght_cm"])
@pytest.mark.parametrize("value", [16**4000, -(16**4000), [16**4000], {"a": [16**4000]}], ids=range(4))
def test_a_number_too_long_to_be_written_out_is_refused_in_a_line(key: str, value: object) -> None:
    words = {"length": ("length_cm",)}
    with pytest.raises(SceneError) as caught:
        checked_tables({"t": {key: value}}, {}, {"t": Table(KNOWN, words=words)}, "a.toml")
    assert len(str(caught.value)) < 300 and "\n" not in str(caught.value)


def test_more_rows_than_anyone_writes_are_refused() -> None:
    rows = {"flaw": [{"title": "x"}] * (MOST_ROWS + 1)}
    with pytest.raises(SceneError, match=f"a.toml, flaw: got {MOST_ROWS + 1} of them, allowed {MOST_ROWS}"):
        checked_tables(rows, {}, {"flaw": Table({"title": Text()}, many=True)}, "a.toml")
