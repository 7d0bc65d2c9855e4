"""plain: what steers a terminal or stays unseen is written as its number; every other letter stays."""

from __future__ import annotations

import json
import os
import shlex

import pytest
from hostile import HOSTILE, STEERING

from drape.plain import fitted, plain, plain_line, shortened, typed


@pytest.mark.parametrize("text", STEERING)
def test_nothing_that_steers_is_left_and_json_says_the_same(text: str) -> None:
    for shown in (plain(text), plain_line(text)):
        assert shown.isprintable() and "\\u" in shown
    assert json.loads(plain(json.dumps(text, ensure_ascii=False))) == text


def test_all_else_stays() -> None:
    kept = "Wächter, 47 %\u00a0± 2°\n\tzweite Zeile → 3 m²"
    assert plain(kept) == kept and plain_line("Wächter ± 2°") == "Wächter ± 2°"
    assert plain_line("a\nb\t") == "a\\u000ab\\u0009"
    for one in ("47\u00a0%", "3\u202fm", "\u3000", "\u0646\u200c\u0645", "\U0001f468\u200d\U0001f33e"):
        assert plain(one) == plain_line(one) == one  # spaces of any width, and what joins letters
    for text in HOSTILE:
        assert plain(text).replace("\\u2028", "\u2028") == text


def test_a_letter_beyond_the_first_65536_has_two_numbers_as_in_json() -> None:
    tag = "a\U000e0041"
    assert plain(tag) == plain_line(tag) == "a\\udb40\\udc41" and json.loads(f'"{plain(tag)}"') == tag
    assert plain_line("\ud800") == "\\ud800"


def test_a_long_text_is_cut_and_says_so() -> None:
    assert shortened("Saltmere", 8) == "Saltmere" and shortened("the toll-house", 6) == "the …"
    assert all(len(shortened("Saltmere", most)) <= max(most, 2) for most in range(9))


@pytest.mark.skipif(os.name == "nt", reason="this shell's quotes")
@pytest.mark.parametrize("name", ["mine.toml", "a `b` $(c);d&.toml", "it's.toml", "-x y.toml"])
def test_a_path_to_be_typed_is_one_word_to_a_shell(name: str) -> None:
    assert shlex.split(f"drape sit {typed(name)}") == ["drape", "sit", f"./{name}" if name[0] == "-" else name]
    assert ("'" in typed(name)) == (name != "mine.toml")


def test_what_is_wider_than_its_room_is_cut_and_says_so():
    """Each letter half as wide as it is high."""
    assert fitted("a" * 20, 10.0, lambda words: 0.5 * len(words)) == "a" * 20
    assert fitted("a" * 21, 10.0, lambda words: 0.5 * len(words)) == "a" * 18 + " …"
    assert fitted("a" * 21, 0.0, lambda words: 0.5 * len(words)).strip("a") in ("", " …")
