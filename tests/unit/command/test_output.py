"""Folders that go again, and the text report put together."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from drape.command.output import folder, with_picture_seconds, with_seat
from drape.errors import SceneError
from drape.files import write_text


def test_a_folder_in_which_nothing_was_written_goes_again(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="stop"), folder(tmp_path / "new"):
        raise ValueError("stop")
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ValueError, match="stop"), folder(tmp_path / "new") as out:
        write_text(out / "a.txt", "kept")
        raise ValueError("stop")
    assert (tmp_path / "new" / "a.txt").read_text(encoding="utf-8") == "kept"


def test_a_folder_that_was_there_stays_though_it_is_empty(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    with folder(tmp_path / "old"):
        pass
    assert (tmp_path / "old").is_dir()


def test_a_folder_that_cannot_be_made_is_refused_in_a_line(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with (
        pytest.raises(SceneError, match=r"^--out: got .*taken, cannot be written: .*\. Give another folder\.$"),
        folder(tmp_path / "taken"),
    ):
        pass


def test_seconds_of_pictures_stand_beside_the_others_and_the_fitting_given_is_left(cone) -> None:  # noqa: ANN001
    before = cone(readings={"settled": True, "seconds": {"mesh": 1.0}})
    after = with_picture_seconds(before, 2.34567)
    assert after.readings["seconds"] == {"mesh": 1.0, "pictures": 2.346}
    assert before.readings["seconds"] == {"mesh": 1.0}


def test_a_seated_wearers_hem_is_lower_by_what_the_body_is(cone) -> None:  # noqa: ANN001
    """A higher seat lowers it less, by as much as it is higher."""
    fall = {f"{side}_cm": 45.0 for side in ("front", "left", "back", "right")} | {"clearance_cm": 45.0}
    scene = SimpleNamespace(tape={"stature": 1.7558}, sex="man")
    low, high = (with_seat(scene, cone(readings={"fall": fall}), seat).readings["seated"] for seat in (0.40, 0.50))
    assert low["back_cm"] == pytest.approx(45.0 - low["lowered_cm"], abs=1e-4)
    assert low["lowered_cm"] - high["lowered_cm"] == pytest.approx(10.0, abs=1e-4)
