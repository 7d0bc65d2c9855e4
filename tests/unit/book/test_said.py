"""Keys of a file are said in the words of the order, and what the order has no words for keeps its key."""

from __future__ import annotations

import pytest

from drape.book.entries import plain
from drape.book.order import Order, with_typed
from drape.book.said import differences_said, in_words, mend_said
from drape.fitting.scene import load_scene, shipped_folder

TEXT = (shipped_folder("scene") / "ferry-warden-tailored.toml").read_text(encoding="utf-8")
FIELDS = Order(plain(TEXT), load_scene("ferry-warden-tailored"), None, {}, [], []).fields()
LAP = {"table": "closure", "place": None, "key": "overlap_cm", "write": 3.0, "was": 0.0}
LEVEL = {"table": "draft", "place": None, "key": "level", "write": True, "was": False}
INTAKE = {"table": "dart", "place": "left shoulder", "key": "intake_cm", "write": 7.5, "was": 6.2}


@pytest.mark.parametrize(("words", "changes", "said"), [
    ("Let them lap. Write overlap_cm = 3.0 (was 0.0) in [closure].", [LAP],
     "Let them lap. In the order: overlap 3.0 cm, was 0.0."),
    ("Level the hem. Write level = true (was false) in [draft].", [LEVEL],
     "Level the hem. In the order: hem levelled from the floor."),
    ("Take more. Try intake_cm = 7.5 (was 6.2) in the [[dart]] on the left shoulder.", [INTAKE],
     "Take more. In the order: dart intake on the left shoulder 7.5 cm, was 6.2."),
    ("See to the turn first.", [], "See to the turn first."),
    ("As before: overlap_cm = 3.0.", [LAP], "As before: overlap 3.0 cm."),
])  # fmt: skip
def test_a_mend_is_said_in_the_words_of_the_order(words, changes, said):
    assert mend_said(FIELDS, words, changes) == said


def test_the_answer_names_no_key_of_a_file():
    answer = "Do not cut entry-2 as it is: neck gap 1.8 cm. Change first: neck_width_cm = 14.2; see below what else."
    assert in_words(FIELDS, answer).endswith("Change first: neck width 14.2 cm; see below what else.")


def test_what_was_changed_is_said_with_what_it_was():
    after = TEXT
    for name, typed in (("draft.length_how", "knee"), ("draft.level", "true"), ("dart.0.length_cm", "16.2")):
        after = with_typed(after, name, typed, None)
    changed = differences_said(FIELDS, plain(TEXT), plain(after))
    assert changed == [
        "length: 112 cm, now to the knee", "hem: as usual, now levelled from the floor",
        "dart length: as usual, now 16.2 cm",
    ]  # fmt: skip
    odd = differences_said(FIELDS, {"draft": {"hem_ease_mm": 2}}, {"draft": {"hem_ease_mm": 4.5}})
    assert odd == ["draft hem ease: 2 mm, now 4.5 mm"]
