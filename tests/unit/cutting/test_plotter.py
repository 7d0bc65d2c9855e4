"""plot: on the small drawing of the lay every word stands inside its piece or below the drawing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon, box

from drape.cutting.lay import Bolt, lay_pieces
from drape.cutting.piece import Piece
from drape.cutting.plotter import NAME_TYPE, NUMBER_TYPE, card_place, write_lay_card
from drape.draft.outline import Edge


def letters(x: float, y: float, words: str, size: float) -> Polygon:
    """Where a line of type stands, its letters narrower than they are taken to be."""
    half = 0.3 * size * len(words)
    return box(x - half, y - 0.75 * size, x + half, y)


@pytest.mark.parametrize(
    ("outline", "inside"),
    [
        (box(0, 0, 80, 40), True),
        (Polygon([(0, 0), (36, 0), (0, 36)]), True),
        (Polygon([(0, 30), (16, 30), (0, 8)]), False),
    ],
)
def test_a_name_stands_inside_its_piece_or_not_in_the_drawing(outline: Polygon, inside: bool) -> None:
    name = "front fill piece" if not inside else "fill piece"
    x, y, found = card_place(outline, "2", name)
    assert found == inside
    assert outline.covers(letters(x, y, "2", NUMBER_TYPE))
    assert not inside or outline.covers(letters(x, y + 4.5, name, NAME_TYPE))


def piece(name: str, number: int, corners: list[tuple[float, float]]) -> Piece:
    points = np.array([*corners, corners[0]])
    return Piece(name, number, tuple(Edge(str(i), points[i : i + 2]) for i in range(len(corners))))


def test_names_with_no_room_are_listed_below_the_lay(tmp_path: Path) -> None:
    pieces = [
        piece("body", 1, [(0.0, 0.0), (2.4, 0.0), (2.4, 0.7), (0.0, 0.7)]),
        piece("front fill piece", 2, [(0.0, 0.0), (0.3, 0.0), (0.0, 0.35)]),
        piece("back fill piece", 3, [(0.0, 0.0), (0.3, 0.0), (0.3, 0.35)]),
    ]
    write_lay_card(lay_pieces(pieces, Bolt(0.7)), tmp_path / "card.svg", title="A cloak")
    text = (tmp_path / "card.svg").read_text(encoding="utf-8")
    assert "2: front fill piece; 3: back fill piece" in text
    assert ">front fill piece<" not in text and ">body<" in text


WRITES_DXF = """
import sys
from pathlib import Path
import numpy as np
from drape.cutting.lay import Bolt, lay_pieces
from drape.cutting.piece import Piece
from drape.cutting.plotter import write_lay_dxf
write_lay_dxf({}, lay_pieces([], Bolt(width=1.4)), Path(sys.argv[1]))
"""


@pytest.mark.long
def test_the_dxf_is_the_same_whatever_the_order_of_sets(tmp_path: Path) -> None:
    """Sets of words come in another order in another process; what is written must not."""
    for seed in ("1", "4"):  # of these two, sets of ezdxf come out differently
        command = [sys.executable, "-c", WRITES_DXF, str(tmp_path / f"{seed}.dxf")]
        subprocess.run(command, check=True, env={**os.environ, "PYTHONHASHSEED": seed})
    assert len({path.read_bytes() for path in tmp_path.glob("*.dxf")}) == 1
