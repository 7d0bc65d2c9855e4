"""How much cloth half circles take: whole strips, ours, the area bound; a table in Markdown.

Run by hand: python tests/bench/lay.py [--bare]. With --bare no seam allowances, as the published strip sums have none.
Lengths in cm. R from the centre of the neck arc; neck hole 13 cm.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from drape.cutting.lay import SHOPPING_WIDTHS, Bolt, lay_pieces, naive_length, thrifty_pieces
from drape.cutting.piecing import Allowances, seam_levels
from drape.draft.cloak import draft_cloak
from drape.draft.style import Style

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "common"))
from stand_in import standing_body  # noqa: E402

NECK = 0.13  # m


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bare", action="store_true")
    parser.add_argument("radii", type=float, nargs="*", default=[1.1, 1.2, 1.3, 1.4], metavar="R", help="in m")
    chosen = parser.parse_args()
    allowances = Allowances(0.0, 0.0, 0.0, 0.0) if chosen.bare else Allowances()
    print("| R | width | pieces | strips | length | area alone | used % | saved % | seconds |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for radius in chosen.radii:
        draft = draft_cloak(Style("round", radius - NECK, front_neck_depth=NECK), standing_body())
        for width in SHOPPING_WIDTHS:
            started = time.process_time()
            bolt = Bolt(width)
            pieces = thrifty_pieces(draft, allowances, bolt)
            lay = lay_pieces(pieces, bolt)
            bare = Allowances(0.0, 0.0, 0.0, 0.0)
            naive = naive_length(draft, seam_levels(draft, width, bare))
            fills = sum("fill" in piece.name for piece in pieces)
            print(
                f"| {100 * radius:.0f} | {100 * width:.0f} | {len(pieces)}, {fills} of them fill | {100 * naive:.1f} | "
                f"{100 * lay.length:.1f} | {100 * lay.bound:.1f} | {100 * lay.utilisation:.0f} | "
                f"{max(0.0, 100 * (1 - lay.length / naive)):.0f} | {time.process_time() - started:.0f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
