"""Drafts of every kind that chalk points and the chalk card are tried on."""

from __future__ import annotations

import math

from drape.draft.style import Dart, Style

STYLES = {
    "round": Style("round", 1.12),
    "tailored": Style("tailored", 1.12, darts=(Dart(),)),
    "left": Style("tailored", 1.12, closure_place="left shoulder", darts=(Dart(),), fastened_to="elbow", buttons=5),
    "centre front": Style("tailored", 1.12, closure_place="centre front",
     darts=(Dart("left shoulder"), Dart("right shoulder"))),
    "edges moved": Style("tailored", 1.12, sweep=math.radians(200), closure_place="centre front",
     darts=(Dart("left shoulder", intake=0.1), Dart("right shoulder", intake=0.05))),
    "three quarters": Style("tailored", 1.12, sweep=1.5 * math.pi, closure_place="centre front"),
    "bowed": Style("tailored", 1.12, darts=(Dart(leg_bow=0.006), Dart(azimuth=math.pi, length=0.12, intake=0.02)),
     shoulder_cut_bow=0.006),
    "bent hem": Style("tailored", 0.45, front_length=0.35, darts=(Dart(),), fastened_to="collar"),
    "drawn": Style("drawn", 1.12, neck_along=(0.16, 0.11, 0.0, -0.11, -0.15), neck_up=(0.0, 0.11, 0.15, 0.09, 0.0)),
}  # fmt: skip
