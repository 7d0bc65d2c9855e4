"""plain: what steers a terminal or stays unseen is written as its number; every other letter stays."""

from __future__ import annotations

import json
import os
import shlex

import pytest
from hostile import HOSTILE, STEERING

from drape.plain import plain, plain_line, typed


@pytest.mark.parametrize("text", STEERING)
def test_nothing_that_steers_is_left_and_json_says_the_same(text: str) -> None:
    for shown in (plain(text), plain_line(text)):
        assert shown.isprintable() and "\\u" in shown
    assert json.loads(plain(json.dumps(text, ensure_ascii=False))) == text


def test_all_else_stays() -> None:
    kept = "Wächter, 47 %\u00a0± 2°\n\tzweite Zeile → 3 m²"
    assert plain(kept) == kept and plain_line("Wächter ± 2°") == "Wächter ± 2°"
    assert plain_line("a\nb\t\u00a0") == "a\\u000ab\\u0009\\u00a0"
    for text in HOSTILE:
        assert plain(text).replace("\\u2028", "\u2028") == text


@pytest.mark.skipif(os.name == "nt", reason="this shell's quotes")
@pytest.mark.parametrize("name", ["mine.toml", "a `b` $(c);d&.toml", "it's.toml", "-x y.toml"])
def test_a_path_to_be_typed_is_one_word_to_a_shell(name: str) -> None:
    assert shlex.split(f"drape sit {typed(name)}") == ["drape", "sit", name]
    assert ("'" in typed(name)) == (name != "mine.toml")
