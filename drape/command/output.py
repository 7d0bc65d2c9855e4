"""Results as files, each whole or not at all.

Comes in: fittings, drafts and texts. Goes out: the files of a run in its folder. What stands in them is made by
`table`, `draft_drawing`, `picture` and `fitting`.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from drape.errors import PictureError, SceneError
from drape.files import write_text, write_whole
from drape.progress import Progress, tell

if TYPE_CHECKING:
    from drape.draft.outline import Draft
    from drape.fitting.scene import Scene
    from drape.reading.result import Fitting


# --- files ------------------------------------------------------------------------------------


@contextlib.contextmanager
def folder(path: Path) -> Iterator[Path]:
    """A folder to write results in; if the work fails before anything is in it, it goes again."""
    try:
        new = not path.exists()
        path.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=path):
            pass
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SceneError(f"--out: got {path}, cannot be written: {reason}. Give another folder.") from None
    try:
        yield path
    finally:
        if new and not any(path.iterdir()):
            path.rmdir()


# --- the files of a run -----------------------------------------------------------------------


def save(scene: Scene, fitting: Fitting, out: Path, text: str) -> list[str]:
    """Everything but readings and picture, each file whole or not at all; the names of all. text: the table.

    The readings are left to `save_readings`, since the seconds that pictures take are known last.
    """
    from drape.reading.result import save_fitting

    (out / f"{scene.name}.png").unlink(missing_ok=True)  # an older picture would not match
    save_fitting(fitting, out)
    write_text(out / f"{scene.name}.txt", text)
    if fitting.draft is not None:  # a loaded fitting has none
        write_draft(scene, fitting.draft, out)
    endings = ("npz", "json", "txt", "png", *(("svg",) if fitting.draft is not None else ()))
    return [f"{scene.name}.{ending}" for ending in endings]


def save_readings(fitting: Fitting, out: Path) -> None:
    """NAME.json."""
    from drape.reading.table import json_text

    write_text(out / f"{fitting.name}.json", json_text(fitting.readings))


def write_draft(scene: Scene, draft: Draft, out: Path) -> None:
    from drape.cutting.draft_drawing import write_draft_svg

    write_whole(out / f"{scene.name}.svg", lambda path: write_draft_svg(draft, path, title=scene.title))


def write_card(scene: Scene, draft: Draft, out: Path) -> None:
    """The chalk card beside the draft."""
    from drape.cutting.chalk_card import write_chalk_card

    write_whole(out / f"{scene.name}-chalk.svg", lambda path: write_chalk_card(draft, path, title=scene.title))


def save_picture(fittings: Sequence[Fitting], out: Path, path: Path) -> PictureError | None:
    """The sheet of some saved fittings, kept from before or drawn; the complaint when it cannot be drawn."""
    from drape.reading.result import sheet_file

    tell(Progress("pictures", 0.0, "drawing the pictures"))
    try:
        sheet_file(
            [out / f"{fitting.name}.npz" for fitting in fittings], path,
            is_kept=all(fitting.readings["settled"] for fitting in fittings),
        )  # fmt: skip
    except PictureError as error:
        return error
    return None


def with_picture_seconds(fitting: Fitting, seconds: float) -> Fitting:
    times = {**fitting.readings.get("seconds", {}), "pictures": round(seconds, 3)}
    return replace(fitting, readings={**fitting.readings, "seconds": times})


def with_seat(scene: Scene, fitting: Fitting, seat_height: float) -> Fitting:
    """The fitting with the readings of its wearer seated [m]."""
    from drape.reading.seated import read_seated
    from drape.units import rounded

    group = read_seated(fitting.readings["fall"], stature=scene.tape["stature"], sex=scene.sex, seat_height=seat_height)
    return replace(fitting, readings={**fitting.readings, "seated": rounded(group)})


def fittings_table(scenes: Sequence[Scene], fittings: Sequence[Fitting]) -> str:
    """The whole report: the conclusion, readings side by side, of several which is better where, then the cautions that
    apply, once.
    """
    from drape.reading.comparison import comparison_text, points
    from drape.reading.conclusion import conclusion_of
    from drape.reading.table import column_names, table

    columns = [fitting.readings for fitting in fittings]
    text = table(
        columns,
        conclusion=conclusion_of(fittings, scenes[0].limits)["text"],
        titles=[scene.title for scene in scenes],
        expects=[scene.expect for scene in scenes],
    )
    if len(columns) > 1:
        names = column_names([scene.name for scene in scenes])
        text += comparison_text(points(columns, scenes[0].limits), names)
    return text + _cautions_on(scenes, fittings)


def fittings_brief(scenes: Sequence[Scene], fittings: Sequence[Fitting], told_in: Path) -> str:
    """The short report: the conclusion, what is wrong, the readings that decide, the cautions. told_in: the whole."""
    from drape.reading.brief import brief
    from drape.reading.conclusion import conclusion_of

    text = brief(
        [fitting.readings for fitting in fittings],
        conclusion=conclusion_of(fittings, scenes[0].limits)["text"],
        titles=[scene.title for scene in scenes],
        told_in=str(told_in),
    )
    return text + _cautions_on(scenes, fittings)


def _cautions_on(scenes: Sequence[Scene], fittings: Sequence[Fitting]) -> str:
    """The cautions that apply to any of the wearers and cloaks, each once."""
    from drape.reading.cautions import cautions
    from drape.reading.table import cautions_text, value_at

    lines: dict[str, None] = {}
    for scene, fitting in zip(scenes, fittings, strict=True):
        found = cautions(
            sex=scene.sex,
            stature=scene.tape.get("stature"),
            cloths=scene.layers,
            clearance_cm=value_at(fitting.readings, "fall.clearance_cm"),
            throat_line_load_n_m=value_at(fitting.readings, "neck.throat_line_load_n_m"),
            fastening=scene.style.fastening,
            seated_on_floor_cm=value_at(fitting.readings, "seated.on_floor_cm"),
        )
        lines |= dict.fromkeys(found)
    return cautions_text(list(lines))
