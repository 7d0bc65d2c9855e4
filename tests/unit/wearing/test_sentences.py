"""What a way, a move and the shape of a rest are called."""

from __future__ import annotations

from drape.wearing.sentences import named, shape_name


def test_a_shape_is_called_by_scene_way_and_rest_as_a_file_may_be():
    assert shape_name("warden", "both arms under, raised") == "warden-both-arms-under-raised"
    assert shape_name("warden", "thrown over", "leaning 40°") == "warden-thrown-over-leaning-40-deg"
    assert shape_name("warden", "thrown over", "stand") == "warden-thrown-over"


def test_a_move_is_named_after_its_way():
    assert named({"how": "open", "doing": "stand"}) == "open"
    assert named({"how": "open", "doing": "turn"}) == "open, turn"
