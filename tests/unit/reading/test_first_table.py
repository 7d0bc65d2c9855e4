"""The first table is marked, says what is there, and leaves out what a coarse mesh cannot tell."""

from __future__ import annotations

from drape.reading.first_table import MARK, first_table
from drape.reading.table import PAGE_WIDTH


def readings(scene: str, gap: float | None) -> dict[str, object]:
    return {
        "scene": scene,
        "neck": {"gap_max_cm": gap, "throat_line_load_n_m": 99.5},
        "shoulder_left": {"stand_off_mean_cm": 0.44},
        "fall": {"lowest_cm": 41.0, "level_cm": 9.0},
    }


def test_two_shapes_stand_side_by_side_under_their_names_and_a_mark():
    lines = first_table([readings("lamp-bearer-short", 2.04), readings("lamp-bearer-long", None)])
    assert lines[0] == MARK and "coarse, still settling" in MARK
    assert lines[1].split() == ["short", "long"]
    said = {line.partition("[")[0].strip(): line.partition("]")[2].split() for line in lines[2:]}
    assert said["neck gap, largest"] == ["2.0", "-"]
    assert said["shoulder stand-off, mean, left"] == ["0.4", "0.4"] and said["fall, level"] == ["9.0", "9.0"]
    assert not any("99.5" in line or "±" in line for line in lines)
    assert all(len(line) <= PAGE_WIDTH for line in lines)


def test_one_shape_stands_under_its_whole_name():
    """Where nothing can be erased, each draft of a comparison has a table of its own."""
    lines = first_table([readings("ferry-warden-tailored", 2.04)])
    assert lines[1].split() == ["ferry-warden-tailored"] and lines[2].split() == "neck gap, largest [cm] 2.0".split()
    assert len(lines[1]) == len(lines[2])
