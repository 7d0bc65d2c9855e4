"""Sheet image: the sheet of saved fittings, drawn in a process of its own, or kept from before.

In: the files that fittings are saved in. Out: a PNG. What stands on it is left to `picture`, which is not imported.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from drape import drawing_process
from drape.cache import content_key, keep, recall
from drape.files import write_whole


def sheet_file(saved: Sequence[Path], path: Path, *, is_kept: bool) -> None:
    """Writes the sheet of saved fittings. is_kept: keep what is drawn for the next time that
    the same is asked under the same name, which is told on it.

    Raises PictureError, MissingExtraError.
    """
    key = content_key("sheet", path.name, [one.read_bytes() for one in saved])
    before = recall(key)
    if before is not None:
        write_whole(path, lambda passing: passing.write_bytes(before))
        return
    drawing_process.draw_in_child({"saved": [str(one) for one in saved], "sheet": str(path)})
    if is_kept:
        keep(key, path.read_bytes())
