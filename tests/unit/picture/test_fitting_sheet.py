"""The sheet: readings found by their key, printed as people write them."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from drape.picture import fitting_sheet
from drape.picture.lettering import length_of


def test_readings_are_found_by_key_and_missing_ones_are_none() -> None:
    readings = {
        "crowding": {"folds": [2, 3], "folds_spread": [1, 0]},
        "neck": {"gap_left_cm": 1.25},
    }
    assert fitting_sheet._value(readings, "crowding.folds.1") == 3
    assert fitting_sheet._value(readings, "neck.gap_left_cm") == 1.25
    for missing in ("crowding.folds.2", "neck.gap_back_cm", "fall.left_cm", "neck"):
        assert fitting_sheet._value(readings, missing) is None
    assert fitting_sheet._number(None, 1) == "–"
    assert fitting_sheet._number(-0.25, 2) == "−0.25"


Box = tuple[str, float, float, float, float]


def printed_boxes(monkeypatch: pytest.MonkeyPatch, *rows: fitting_sheet.SheetRow) -> list[Box]:
    """The words of a sheet's tables and where they stand: words, left, top, right, bottom."""
    boxes = []

    def note(
        pen: object, place: tuple[float, float], words: str, size: int, *, face: str = "sans", **_: object
    ) -> None:
        if words:
            right = place[0] + length_of(words, size, face)
            boxes.append((words, place[0], place[1] + 0.2 * size, right, place[1] + size))

    monkeypatch.setattr(fitting_sheet, "write", note)
    pen = ImageDraw.Draw(Image.new("RGB", (fitting_sheet._WIDTH, 400)))
    fitting_sheet._draw_tables(pen, rows[-1], rows[0] if len(rows) > 1 else None, 0)
    return boxes


def wide_readings(value: float, spread: float) -> dict[str, object]:
    """Every reading of the tables with as many figures as it may have."""
    found: dict[str, dict[str, object]] = {}
    for table in fitting_sheet._TABLES:
        for _, keys, _ in table.lines:
            for key in keys:
                group, _, name = key.partition(".")
                if group == "crowding" and name[-1].isdigit():
                    stem = name.rpartition(".")[0]
                    found.setdefault(group, {})[stem] = [abs(value)] * 6
                    found[group][f"{stem}_spread"] = [spread] * 6
                else:
                    most = value if group == "neck" else abs(value)
                    most = min(most, 12.34) if "stand_off" in name else most  # cloth stands off by no more
                    found.setdefault(group, {})[name] = most
                    found[group][f"{name}_spread"] = spread
    return found


@pytest.mark.parametrize(("value", "spread"), [(-12.34, 12.34), (-9.87, 9.87), (88.88, 0.88), (118.8, 63.2)])
def test_no_figure_of_the_tables_prints_over_another(
    monkeypatch: pytest.MonkeyPatch, value: float, spread: float
) -> None:
    row = fitting_sheet.SheetRow("a", "", wide_readings(value, spread), {})
    other = fitting_sheet.SheetRow("b", "", wide_readings(-0.3 * value, spread), {})
    for rows in ((row,), (other, row)):
        boxes = printed_boxes(monkeypatch, *rows)
        for k, (words, left, top, right, bottom) in enumerate(boxes):
            for said, begin, high, end, low in boxes[k + 1 :]:
                apart = right + 1 <= begin or end + 1 <= left or bottom <= high or low <= top
                assert apart, f"{words!r} over {said!r}"
        assert max(box[3] for box in boxes) <= fitting_sheet._WIDTH - 20


def test_less_than_no_fullness_is_not_printed() -> None:
    """A level that goes round nothing, in files of older versions."""
    assert fitting_sheet._value({"crowding": {"fullness_percent": [-19.0, 3.0]}}, "crowding.fullness_percent.0") is None
    assert fitting_sheet._value({"crowding": {"fullness_percent": [-19.0, 3.0]}}, "crowding.fullness_percent.1") == 3.0


CONCLUSION = {"text": "Cut plain: it sits.", "better": None, "sits": {"plain": "yes"}, "starts": {"plain": 1}}


def verdict(number: int, **changed: object) -> dict[str, object]:
    """A certain fault of the neck."""
    usual = {"where": "neck", "finding": f"finding {number}.", "mend": "Deepen the front.", "changes": []}
    return usual | {"harm": "cut", "undecided": False} | changed


def composed(
    monkeypatch: pytest.MonkeyPatch, verdicts: list[dict[str, object]], rows: int = 1, **changed: object
) -> list[str]:
    """All words of a sheet of so many fittings, each with these verdicts, from top to bottom."""
    said: list[tuple[float, str]] = []
    plain = fitting_sheet.write
    monkeypatch.setattr(
        fitting_sheet, "write",
        lambda pen, place, words, *a, **k: (said.append((place[1], words)), plain(pen, place, words, *a, **k)),
    )  # fmt: skip
    views = {view: np.zeros((486, 200, 3), np.uint8) for view in fitting_sheet.VIEWS}
    readings = {"scene": "plain", "settled": True, "verdicts": verdicts}
    row = fitting_sheet.SheetRow("a", "", readings, views, **changed)
    scales = {"standing_pixels_per_metre": 240.0, "close_pixels_per_metre": 900.0}
    sheet = fitting_sheet.compose_sheet([row] * rows, conclusion=CONCLUSION, floor_row=480.0, **scales)
    assert max(top for top, _ in said) < sheet.height - 25
    return [words for _, words in sorted(said, key=lambda one: one[0])]


@pytest.mark.parametrize("rows", [1, 2, 6])
def test_the_conclusion_stands_on_top_and_every_verdict_below(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    said = composed(monkeypatch, [verdict(k) for k in range(30)], rows)
    assert said[0] == "Cut plain: it sits."
    assert [said.count(f"neck: finding {k}.") for k in range(30)] == [rows] * 30
    assert not any("more" in words for words in said)


def test_the_conclusion_can_be_read_on_a_telephone(monkeypatch: pytest.MonkeyPatch) -> None:
    """At 390 pixels across its letters are at least 9 pixels high, unless it is longer than four lines of that."""
    lines, size = fitting_sheet._concluded("Cut plain, not crowded: " + "spare cloth 1 against 28 %, " * 5)
    assert size * 390 / fitting_sheet._WIDTH >= 9
    assert max(length_of(line, size, "bold") for line in lines) <= fitting_sheet._WIDTH - 2 * fitting_sheet._MARGIN


def test_a_mend_told_before_is_told_by_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    change = {"table": "draft", "place": None, "key": "neck", "write": "tailored", "was": "round"}
    said = composed(monkeypatch, [verdict(k, changes=[change]) for k in (1, 2)])
    assert said.count("Deepen the front.") == 1 and "Mend as 1." in said


def test_what_is_in_order_has_no_number(monkeypatch: pytest.MonkeyPatch) -> None:
    fine = [verdict(1, harm=None, where=where, finding="hangs to the knee.", mend="") for where in ("dart", "hem")]
    row = fitting_sheet.SheetRow("a", "", {"settled": True, "verdicts": [*fine, verdict(7, undecided=True)]}, {})
    assert [mark for mark, _ in fitting_sheet._items(row, 900)] == [(1, False)]
    assert fitting_sheet._in_order(row) == ["In order: dart. Hangs to the knee."]
    assert "It sits. Nothing is wrong" in composed(monkeypatch, fine)


def test_verdicts_of_files_from_before_harm_was_told_are_all_listed_without_numbers() -> None:
    old = {"where": "neck", "finding": "gapes.", "mend": "Raise it."}
    row = fitting_sheet.SheetRow("a", "", {"settled": True, "verdicts": [old]}, {})
    ((mark, lines),) = fitting_sheet._items(row, 900)
    assert mark is None and [words for _, words, _ in lines] == ["neck: gapes.", "Raise it."]


def test_the_neck_base_is_named_only_where_it_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not any("neck base" in words for words in composed(monkeypatch, [verdict(1)]))
    assert any("red line: neck base" in words for words in composed(monkeypatch, [verdict(1)], neck_base_seen=True))
