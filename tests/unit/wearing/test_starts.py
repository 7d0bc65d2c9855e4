"""Several starts of one way: means, each with its ±, and in how many it stayed."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from drape.wearing.starts import gathered, gathered_ways


def run(slid, stays=True, settled=True, how="thrown over"):
    return {
        "how": how, "doing": "stand", "settled": settled, "stays": stays, "slid_cm": slid, "pull_n": None,
        "cover": {"front_percent": 50.0 + slid}, "trodden_on": False, "seconds": 1.0,
    }  # fmt: skip


def test_one_start_is_told_as_it_is():
    assert gathered([run(3.0)]) == run(3.0)


def test_of_three_the_mean_its_spread_and_how_many_stayed():
    found = gathered([run(3.0), run(5.0), run(40.0, stays=False)])
    assert found["slid_cm"] == 16.0 and found["cover"]["front_percent"] == 66.0
    assert (found["stays"], found["stayed"], found["starts"]) == (True, 2, 3)
    assert found["pull_n"] is None and found["slid_cm_spread"] > 20.0
    # Student's t within which two of three lie, two degrees of freedom: 2/3 √(2/(1 − 4/9)); deviation; root of 1 + 1/3
    student, deviation = 2 / 3 * (2 / (1 - 4 / 9)) ** 0.5, (((13**2 + 11**2 + 24**2) / 2) ** 0.5)
    assert found["slid_cm_spread"] == pytest.approx(student * deviation * (4 / 3) ** 0.5, rel=1e-4)
    assert found["cover"]["front_percent_spread"] == found["slid_cm_spread"]


def test_two_starts_have_no_spread_and_one_not_settled_unsettles_all():
    found = gathered([run(3.0), run(5.0, settled=False)])
    assert "slid_cm_spread" not in found and not found["settled"]
    assert gathered([run(3.0), run(50.0, stays=False)])["stays"] is False


def test_a_way_that_one_start_leaves_out_is_left_out():
    wearings = [
        SimpleNamespace(ways=[SimpleNamespace(readings=run(1.0)), SimpleNamespace(readings=run(1.0, how="open"))]),
        SimpleNamespace(ways=[SimpleNamespace(readings=run(3.0))]),
    ]
    assert [(one["how"], one["slid_cm"]) for one in gathered_ways(wearings)] == [("thrown over", 2.0)]
