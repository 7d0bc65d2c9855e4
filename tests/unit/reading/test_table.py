"""The report: nothing lost between readings, table and JSON; differences."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import numpy as np
import pytest

from drape.reading.table import (
    GROUPS,
    KEY_ORDER,
    cell_with_spread,
    change,
    column_names,
    differences,
    edge_dimensions,
    json_text,
    table,
    value_at,
)

LEVELS = [1, 2, 4, 6, 8, 10]


def readings(name: str = "pageant-plain", *, shift: float = 0.0) -> dict[str, Any]:
    """Readings as `sit` prints them, every number its own, so that a mix-up shows."""
    number = iter(range(1, 200))

    def some(*keys: str) -> dict[str, Any]:
        return {key: round(next(number) + 0.25 + shift, 2) for key in keys}

    return {
        "conclusion": {"text": f"Cut {name}.", "better": None, "sits": {name: "yes"}, "starts": {name: 1}},
        "scene": name,
        "settled": True,
        "residual": 0.0004,
        "remaining_mm": 0.31,
        "worst_height_cm": 44.0,
        "worst_azimuth_deg": 250.0,
        "steps": 4100,
        "vertices": 2537,
        "edge_length_cm": 2.0,
        "seconds": {"figure": 0.5, "settle": 12.0},
        "starts": {"count": 1, "words": "one start, which lies smooth"},
        "crossings": 0,
        "deepest_mm": 0.12,
        "remarks": [],
        "neck": {
            **some("gap_front_cm", "gap_left_cm", "gap_back_cm", "gap_right_cm", "gap_max_cm"),
            **some("ride_front_cm", "ride_back_cm", "ride_left_cm", "ride_right_cm"),
            **some("throat_load_n", "throat_line_load_n_m"),
            "gap_max_at": "front left",
            "gap_back_cm_spread": 0.3,
        },
        "shoulder_left": some("stand_off_mean_cm", "stand_off_max_cm", "stand_off_at_cm", "lie_percent"),
        "shoulder_right": some("stand_off_mean_cm", "stand_off_max_cm", "stand_off_at_cm", "lie_percent"),
        "spare": some("percent", "within_cm"),
        "crowding": {
            "at_cm": LEVELS,
            "fullness_percent": [next(number) + 0.5 + shift for _ in LEVELS],
            "folds": [next(number) for _ in LEVELS],
            "fold_depth_cm": [next(number) + 0.5 for _ in LEVELS],
            **some("max_percent", "mean_percent"),
        },
        "dart": [some("intake_cm", "angle_to_shoulder_deg", "point_short_cm", "point_gap_cm") for _ in range(3)],
        "hem": {"at_deg": [0, 180], "trim_cm": [some("a")["a"], some("a")["a"]],
         "opening_trim_cm": [some("a")["a"], some("a")["a"]]},
        "closure": some("shift_cm", "gape_cm", "pull_n"),
        "fall": {
            **some("front_cm", "left_cm", "back_cm", "right_cm", "mean_cm", "lowest_cm", "highest_cm", "level_cm"),
            "reaches": "3 cm below the middle of the calf",
            **some("clearance_cm", "bias_drop_cm"),
        },
        "seated": some("seat_height_cm", "lowered_cm", "left_cm", "back_cm", "right_cm", "on_floor_cm"),
        "balance": some("forward_cm", "left_cm", "turn_deg"),
        "weight": some(
            "cloth_kg", "neck_percent", "shoulder_left_percent", "shoulder_right_percent",
            "arms_percent", "torso_percent", "pressed_down_percent", "balance_error_percent",
        ),
        "collar": some(
            "top_gap_front_cm", "top_gap_left_cm", "top_gap_back_cm", "top_gap_right_cm", "top_gap_max_cm",
            "stands_front_percent", "stands_left_percent", "stands_back_percent", "stands_right_percent",
        ),
        "dags": [{"edge": "hem", "kind": "round", "count": 32, "width_cm": 10.1, "depth_cm": 6.5, "settled": False}],
        "spread": {"from": "starts", "members": 3, "words": "±: as measured once."},
        "verdicts": [{
            "where": "neck, back", "finding": "gapes by 2.1 cm", "mend": "raise the back neck by 1 cm",
            "undecided": False, "likely_percent": 84,
            "changes": [{"table": "draft", "place": None, "key": "back_neck_depth_cm", "write": 17.5, "was": 18.5}],
        }],
    }  # fmt: skip


LEFT_OUT = ("seconds", "starts", "verdicts", "conclusion")


def numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [n for key, item in value.items() if key not in LEFT_OUT for n in numbers(item)]
    if isinstance(value, list):
        return [n for item in value for n in numbers(item)]
    return [value] if isinstance(value, (int, float)) and not isinstance(value, bool) else []


# --- table ------------------------------------------------------------------------------------


def test_every_number_of_the_readings_stands_in_the_table() -> None:
    text = table([readings()])
    shown = [
        float(word.strip("±[]:°+,;.")) for word in text.split() if word.strip("±[]:°+,;.").replace(".", "", 1).isdigit()
    ]
    missing = [n for n in numbers(readings()) if not any(abs(n - s) <= 0.5 for s in shown)]
    assert len(numbers(readings())) > 60
    assert missing == []
    assert "Other readings" not in text, "every agreed reading has a row of its own"


def test_every_row_has_a_reading_and_every_group_a_meaning() -> None:
    """Against a misspelt key: a row that never finds its reading would silently be left out."""
    lost = [row.key for group in GROUPS for row in group.rows if value_at(readings(), row.key) is None]
    assert lost == []
    assert all(len(group.meaning.split()) >= 5 for group in GROUPS)


def test_dags_say_whether_they_were_settled() -> None:
    loose = readings()
    tight = {**loose, "dags": [{**loose["dags"][0], "settled": True}]}
    said = [" ".join(table([one]).split()) for one in (loose, tight)]
    assert "32 round dags, 10.1 cm wide, 6.5 deep; too fine for these triangles" in said[0]
    assert "fall is read at their tips" in said[1] and "too fine" not in said[1]


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_drafts_fit_eighty_columns(count: int) -> None:
    drafts = [readings("pageant-plain"), readings("pageant-shaped", shift=1.5)][:count]
    text = table(drafts, titles=["A cloak with a title " * 6] * count, expects=["what should happen " * 20] * count)
    assert max(map(len, text.splitlines())) <= 80
    assert text.endswith("\n")
    assert all(line == line.rstrip() for line in text.splitlines())


def test_two_drafts_get_the_second_less_the_first() -> None:
    second = readings("pageant-shaped")
    second["neck"]["gap_back_cm"] = readings()["neck"]["gap_back_cm"] - 1.5
    lines = table([readings(), second]).splitlines()
    heads = next(line for line in lines if line.startswith(" " * 30))
    assert heads.split() == ["plain", "shaped", "difference"]
    start = lines.index("Neck gap: how far the neck edge stands off the neck.")
    back = next(line for line in lines[start:] if line.strip().startswith("back [cm]"))
    assert back.split()[2:] == ["3.2", "±0.3", "1.8", "±0.3", "-1.5", "±0.4"]


def test_a_spread_that_shows_as_nought_is_left_out() -> None:
    column = {"weight": {"cloth_kg": 1.553, "cloth_kg_spread": 0.0004}, "neck": {"gap_max_cm": 1.2}}
    assert cell_with_spread(column, "weight.cloth_kg", 2) == "1.55"
    assert cell_with_spread(column, "weight.cloth_kg", 4) == "1.5530 ±0.0004"
    assert (change(-0.5, 1, 0.04), change(-0.5, 1, 0.06)) == ("-0.5", "-0.5 ±0.1")


def test_a_run_not_settled_is_stamped_and_a_settled_one_is_not() -> None:
    assert "NOT SETTLED" not in table([readings()])
    moving = {**readings("pageant-moving"), "settled": False, "residual": 0.21, "remaining_mm": 14.0}
    assert "*** NOT SETTLED *** " in table([moving])
    both = table([readings(), moving])
    assert "NOT SETTLED (pageant-moving)" in both
    assert "NOT SETTLED (pageant-plain)" not in both
    unknown = {key: value for key, value in readings().items() if key != "settled"}
    assert "NOT SETTLED" in table([unknown])


def test_what_is_missing_is_a_dash_and_what_is_new_is_shown() -> None:
    second = copy.deepcopy(readings("pageant-shaped"))
    second["dart"] = []
    second["collar"] = {"stand_cm": 4.5}
    second["neck"]["gap_front_cm"] = float("nan")
    lines = table([readings(), second]).splitlines()
    dart = next(line for line in lines if line.strip().startswith("intake sewn"))
    assert dart.split()[-1] == "-"
    assert any(line.split() == ["collar", "stand", "[cm]", "-", "4.50"] for line in lines)
    neither = table([{**readings(), "dart": []}])
    assert "Dart:" not in neither


def test_verdicts_and_expectations_are_printed_whole() -> None:
    text = " ".join(table([readings()], expects=["It gapes behind."]).split())
    assert "- neck, back: gapes by 2.1 cm Mend: raise the back neck by 1 cm" in text
    assert "Expected, as the scene says: It gapes behind." in text


@pytest.mark.parametrize(
    ("names", "short"),
    [
        (["ferry-warden-round", "ferry-warden-tailored"], ["round", "tailored"]),
        (["clerk", "clerk-long"], ["clerk", "clerk-long"]),
        (["clerk-round", "clerk-round-mended"], ["round", "round-mended"]),
        (["a", "b", "c"], ["a", "b", "c"]),
        (["ferry-warden-round"], ["ferry-warden-round"]),
    ],
)
def test_columns_are_headed_by_what_differs(names: list[str], short: list[str]) -> None:
    assert column_names(names) == short


# --- JSON -------------------------------------------------------------------------------------


def test_json_comes_back_the_same_in_the_agreed_order_and_ends_in_a_newline() -> None:
    shuffled = dict(sorted(readings().items(), reverse=True))
    text = json_text(shuffled)
    assert json.loads(text) == readings()
    assert list(json.loads(text)) == list(KEY_ORDER)
    assert text.endswith("}\n")
    assert text == json_text(readings())


def test_json_takes_array_scalars_and_has_no_nan() -> None:
    text = json_text(
        {"a": np.float64(1.5), "b": np.arange(3), "c": math.nan, "d": [np.bool_(True), math.inf], "e": np.int64(7)}
    )
    assert json.loads(text) == {"a": 1.5, "b": [0, 1, 2], "c": None, "d": [True, None], "e": 7}


def test_differences_are_second_minus_first_for_every_number() -> None:
    first, second = readings(), readings("pageant-shaped", shift=2.5)
    found = differences(first, second)
    changes = {key: value for key, value in found.items() if key not in ("residual", "remaining_mm")}
    assert (
        "seconds" not in changes and "verdicts" not in changes and "settled" not in changes and "scene" not in changes
    )
    assert changes["neck"]["gap_front_cm"] == 2.5
    assert changes["neck"]["gap_back_cm_spread"] == pytest.approx(math.hypot(0.3, 0.3), abs=1e-6)
    assert changes["crowding"] == {
        "at_cm": LEVELS,
        "fullness_percent": [2.5] * 6,
        "folds": [0] * 6,
        "fold_depth_cm": [0.0] * 6,
        "max_percent": 2.5,
        "mean_percent": 2.5,
    }
    assert changes["dart"] == [{key: 2.5 for key in first["dart"][0]}] * 3
    assert changes["hem"] == {"at_deg": [0, 180], "trim_cm": [2.5, 2.5], "opening_trim_cm": [2.5, 2.5]}
    assert changes["fall"]["clearance_cm"] == 2.5 and "reaches" not in changes["fall"]
    assert found["vertices"] == 0


def test_differences_leave_out_what_only_one_has() -> None:
    second = {**readings(), "dart": [], "closure": {"shift_cm": None}}
    found = differences(readings(), second)
    assert "dart" not in found and "closure" not in found
    assert found["balance"] == {"forward_cm": 0.0, "left_cm": 0.0, "turn_deg": 0.0}


def test_dimensions_go_out_in_their_units() -> None:
    assert edge_dimensions({"neck_width": 0.156, "area": 2.75}) == {"neck_width_cm": 15.6, "area_m2": 2.75}
