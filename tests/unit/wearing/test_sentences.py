"""What a way, a move and the shape of a rest are called."""

from __future__ import annotations

from drape.wearing.sentences import named, said_by_way, said_together, shape_name


def test_a_shape_is_called_by_scene_way_and_rest_as_a_file_may_be():
    assert shape_name("warden", "both arms under, raised") == "warden-both-arms-under-raised"
    assert shape_name("warden", "thrown over", "leaning 40°") == "warden-thrown-over-leaning-40-deg"
    assert shape_name("warden", "thrown over", "stand") == "warden-thrown-over"


def test_a_move_is_named_after_its_way():
    assert named({"how": "open", "doing": "stand"}) == "open"
    assert named({"how": "open", "doing": "turn"}) == "open, turn"


def test_moves_of_which_no_more_is_to_be_said_are_named_once():
    arms = {side: {"free": False, "bare_cm": 0.0, "bare_at": []} for side in ("left", "right")}
    way = {
        "how": "closed", "doing": "stand", "settled": True, "stays": True, "slid_cm": 0.0, "arms": arms,
        "turned_deg": 0.0, "ridden_back_cm": 0.0, "trodden_on": False,
    }  # fmt: skip
    moves = [way | {"doing": "lean"}, way | {"doing": "turn", "trodden_on": True}, way | {"doing": "step"}]
    assert said_together([way]) == "Closed: both arms are under."
    assert said_together([way, *moves]) == (
        "Closed: both arms are under. Lean, step: the same. Turn: both arms are under; the hem is trodden on."
    )
    assert said_by_way([way, *moves[:1], way | {"how": "open"}]) == [
        "Closed: both arms are under. Lean: the same.", "Open: both arms are under.",
    ]  # fmt: skip
    assert said_by_way([]) == []
    assert said_together([way | {"how": "one arm free"}]) == "One arm free: no arm comes free; both arms are under."
    assert said_together([way, way | {"doing": "lean", "settled": False}]).endswith("Lean: NOT SETTLED. Do not go by "
                                                                                     "its numbers.")  # fmt: skip
