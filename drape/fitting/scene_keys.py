"""What a scene, a body and a cloth file may say: each key with its range in the unit its name ends in.

Goes out: tables for `schema` to check a file by. Reading the files and making something of them is left to `scene`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from drape.body.arm_pose import HOLDS
from drape.body.stance import SHOULDER_SETS
from drape.body.tape import REQUIRED, SEXES
from drape.body.worn_under import KINDS, PLACES, THICKEST
from drape.cutting.lay import FOLDS
from drape.draft.style import (
    CLOSURE_PLACES,
    COLLAR_CUTS,
    DAG_EDGES,
    DAG_KINDS,
    FASTENINGS,
    FRONT_ENDS,
    LENGTH_PLACES,
    NECKS,
    SHOULDER_ENDS,
    SHOULDERS,
)
from drape.fitting.quality import DOINGS, HOWS
from drape.reading.verdict import THRESHOLDS, WORN_THRESHOLDS
from drape.schema import Colour, Keys, Number, Switch, Table, Text
from drape.units import bare_name

TAPE_KEYS: Final[Keys] = MappingProxyType(
    {
        "stature_cm": Number(80, 230),
        "back_neck_height_cm": Number(60, 205),
        "side_neck_height_cm": Number(60, 205),
        "front_neck_height_cm": Number(55, 200),
        "shoulder_point_height_cm": Number(55, 200),
        "neck_base_girth_cm": Number(25, 60),
        "neck_girth_cm": Number(20, 60),
        "shoulder_length_cm": Number(5, 25),
        "shoulder_slope_deg": Number(5, 45),
        "shoulder_slope_left_deg": Number(5, 45),
        "shoulder_slope_right_deg": Number(5, 45),
        "shoulder_breadth_cm": Number(18, 60),
        "upper_arm_breadth_cm": Number(20, 80),
        "chest_girth_cm": Number(45, 180),
        "waist_girth_cm": Number(40, 190),
        "hip_girth_cm": Number(45, 190),
        "chest_breadth_cm": Number(12, 60),
        "chest_depth_cm": Number(8, 55),
        "waist_breadth_cm": Number(12, 65),
        "waist_depth_cm": Number(8, 60),
        "hip_breadth_cm": Number(12, 65),
        "hip_depth_cm": Number(8, 60),
        "chest_height_cm": Number(45, 175),
        "waist_height_cm": Number(35, 150),
        "hip_height_cm": Number(30, 130),
        "arm_length_cm": Number(25, 90),
        "wrist_height_cm": Number(25, 115),
        "knee_height_cm": Number(18, 75),
        "ankle_height_cm": Number(2, 15),
        "head_girth_cm": Number(42, 68),
        "head_length_cm": Number(13, 25),
        "head_breadth_cm": Number(10, 20),
    }
)

# What a maker may call a measure, without unit; a list: what it may mean, where it is not one thing.
TAPE_WORDS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        **dict.fromkeys(("height", "body_height", "total_height", "full_height", "tall"), ("stature_cm",)),
        **dict.fromkeys(
            (
                "bust",
                "bust_girth",
                "full_bust",
                "breast",
                "breast_girth",
                "chest",
                "chest_circumference",
                "bust_circumference",
            ),
            ("chest_girth_cm",),
        ),
        **dict.fromkeys(("waist", "waistline", "natural_waist", "waist_circumference"), ("waist_girth_cm",)),
        **dict.fromkeys(("hip", "hips", "hips_girth", "seat", "seat_girth", "hip_circumference"), ("hip_girth_cm",)),
        **dict.fromkeys(("neck_base", "neck_hole", "neckline"), ("neck_base_girth_cm",)),
        **dict.fromkeys(("mid_neck", "mid_neck_girth", "throat"), ("neck_girth_cm",)),
        **dict.fromkeys(
            ("neck", "collar", "collar_size", "neck_circumference", "neck_size"),
            ("neck_base_girth_cm", "neck_girth_cm"),
        ),
        **dict.fromkeys(("shoulder", "shoulder_seam", "one_shoulder"), ("shoulder_length_cm",)),
        **dict.fromkeys(
            ("shoulder_width", "shoulders", "shoulders_width"), ("shoulder_breadth_cm", "shoulder_length_cm")
        ),
        **dict.fromkeys(("across_shoulders", "cross_shoulder", "point_to_point"), ("shoulder_breadth_cm",)),
        **dict.fromkeys(("shoulder_angle", "shoulder_slant"), ("shoulder_slope_deg",)),
        **dict.fromkeys(("nape", "nape_height", "neck_height", "nape_to_floor"), ("back_neck_height_cm",)),
        **dict.fromkeys(("arm", "sleeve", "sleeve_length"), ("arm_length_cm",)),
        **dict.fromkeys(("head", "head_circumference", "hat_size"), ("head_girth_cm",)),
        **{name: (f"{name}_height_cm",) for name in ("wrist", "knee", "ankle")},
        **{f"{name}_width": (f"{name}_breadth_cm",) for name in ("chest", "waist", "hip", "head", "upper_arm")},
    }
)

# How the body stands, holds its arms, and what it wears under the cloak: in a body file, or in a scene, laid over it.
STANCE_KEYS: Final[Keys] = MappingProxyType(
    {
        "head_forward_cm": Number(-3, 8),
        "stoop_cm": Number(-4, 10),
        "full_chest_cm": Number(0, 4),
        "full_back_cm": Number(0, 4),
        "low_left_cm": Number(0, 6),
        "low_right_cm": Number(0, 6),
        "shoulders": Text(choices=SHOULDER_SETS),
    }
)

ARMS_KEYS: Final[Keys] = MappingProxyType({"left": Text(choices=HOLDS), "right": Text(choices=HOLDS)})

WORN_KEYS: Final[Keys] = MappingProxyType(
    {"kind": Text(choices=tuple(KINDS)), **{f"{place}_cm": Number(0, 100 * THICKEST) for place in PLACES}}
)

HELD_TABLES: Final[Mapping[str, Table]] = MappingProxyType(
    {"stance": Table(STANCE_KEYS), "arms": Table(ARMS_KEYS), "worn_under": Table(WORN_KEYS)}
)

CLOTH_KEYS: Final[Keys] = MappingProxyType(
    {
        "areal_density_g_m2": Number(50, 2000, required=True),
        "thickness_mm": Number(0.1, 10, required=True),
        "bending_length_warp_cm": Number(0.5, 8, required=True),
        "bending_length_weft_cm": Number(0.5, 8, required=True),
        "tensile_stiffness_warp_n_m": Number(200, 50_000, required=True),
        "tensile_stiffness_weft_n_m": Number(200, 50_000, required=True),
        "shear_stiffness_n_m": Number(5, 2000, required=True),
        "twist_rigidity_un_m": Number(0.01, 10_000),  # left out: estimated from the bending lengths
        "poisson_ratio": Number(0, 0.5, required=True, plain=True),
        "friction_on_cloth": Number(0, 1.5, required=True, plain=True),
        "friction_on_figure": Number(0, 1.5, required=True, plain=True),
        "source": Text(required=True),
    }
)

WET_KEYS: Final[Keys] = MappingProxyType(  # of a cloth wet through; each is estimated where it is left out
    {
        "water_percent": Number(0, 300),
        "wet_stiffness_percent": Number(5, 150),
        "wet_friction_on_cloth": Number(0, 1.5, plain=True),
        "wet_friction_on_figure": Number(0, 1.5, plain=True),
    }
)

OWN_CLOTH: Final[Keys] = MappingProxyType({**CLOTH_KEYS, **WET_KEYS})

CLOTH_TABLES: Final[Mapping[str, Table]] = MappingProxyType({"cloth": Table({"name": Text(), **OWN_CLOTH})})

BODY_TABLES: Final[Mapping[str, Table]] = MappingProxyType(
    {
        "figure": Table(
            {
                "name": Text(),
                "sex": Text(choices=SEXES, required=True),
                "source": Text(lines=True),
            }
        ),
        "tape": Table(
            {key: replace(rule, required=bare_name(key) in REQUIRED) for key, rule in TAPE_KEYS.items()},
            words=TAPE_WORDS,
        ),
        **HELD_TABLES,
    }
)

BOLT_KEYS: Final[Keys] = MappingProxyType(  # of a layer under the outside; the outside's stand in piecing and lay
    {
        "width_cm": Number(0, 400),
        "shrinkage_percent": Number(0, 40),
        "price_per_metre": Number(0, 100_000, plain=True),
    }
)

SCENE_KEYS: Final[Keys] = MappingProxyType({"title": Text(required=True), "expect": Text(lines=True)})

BY_CLOTH: Final[Mapping[str, str]] = MappingProxyType({"preset": "cloth"})  # what the key was called before

SCENE_TABLES: Final[Mapping[str, Table]] = MappingProxyType(
    {
        "figure": Table({"body": Text(required=True), **TAPE_KEYS}, words=TAPE_WORDS),
        **HELD_TABLES,
        "cloth": Table(  # what is due hangs on cloth
            {"cloth": Text(), "wet": Switch(), **OWN_CLOTH}, partial=True, renamed=BY_CLOTH
        ),
        "interlining": Table({"cloth": Text(), **BOLT_KEYS, **OWN_CLOTH}, partial=True, renamed=BY_CLOTH),
        "lining": Table(
            {"cloth": Text(), "colour": Colour(), **BOLT_KEYS, **OWN_CLOTH}, partial=True, renamed=BY_CLOTH
        ),
        "draft": Table(
            {
                "neck": Text(choices=NECKS, required=True),
                "cut_for": Text(),
                "length_cm": Number(15, 200),
                "length_to": Text(choices=LENGTH_PLACES),
                "off_floor_cm": Number(0, 150),
                "front_length_cm": Number(15, 200),
                "front_length_to": Text(choices=LENGTH_PLACES),
                "side_length_cm": Number(15, 200),
                "side_length_to": Text(choices=LENGTH_PLACES),
                "sweep_deg": Number(90, 360),
                "front_neck_depth_cm": Number(2, 50),
                "back_neck_depth_cm": Number(1, 50),
                "neck_width_cm": Number(8, 40),
                "neck_ease_cm": Number(-1, 20),
                "level": Switch(),
                "neck_along_cm": Number(-60, 60, several=True),
                "neck_up_cm": Number(-60, 60, several=True),
                "hem_along_cm": Number(-250, 250, several=True),
                "hem_up_cm": Number(-250, 250, several=True),
                "first_edge_along_cm": Number(1, 250, several=True),
                "first_edge_aside_cm": Number(-30, 30, several=True),
                "last_edge_along_cm": Number(1, 250, several=True),
                "last_edge_aside_cm": Number(-30, 30, several=True),
            }
        ),
        "closure": Table(
            {
                "place": Text(choices=CLOSURE_PLACES),
                "shoulder_cut_intake_cm": Number(0, 40),
                "shoulder_cut_length_cm": Number(2, 60),
                "shoulder_cut_bow_cm": Number(-3, 3),
                "fastened_length_cm": Number(2, 150),
                "fastened_to": Text(choices=tuple(dict.fromkeys(SHOULDER_ENDS + FRONT_ENDS))),
                "overlap_cm": Number(0, 30),
                "fastening": Text(choices=FASTENINGS),
                "buttons": Number(1, 60, plain=True, whole=True),
                "button_diameter_cm": Number(0.6, 8),
                "button_spacing_cm": Number(0.6, 40),
            }
        ),
        "allowances": Table(
            {
                "seam_cm": Number(0, 5),
                "neck_cm": Number(0, 10),
                "opening_cm": Number(0, 15),
                "hem_cm": Number(0, 20),
                "collar_cm": Number(0, 10),
            }
        ),
        "collar": Table(
            {
                "height_cm": Number(1, 20, required=True),
                "front_height_cm": Number(1, 20),
                "cut": Text(choices=COLLAR_CUTS),
                "taken_in_cm": Number(0, 20),
                "grain_deg": Number(-90, 90),
                "closed": Switch(),
                "buttons": Number(0, 6, plain=True, whole=True),
            },
            partial=True,
        ),
        "dags": Table(
            {
                "edge": Text(choices=DAG_EDGES, required=True),
                "kind": Text(choices=DAG_KINDS, required=True),
                "width_cm": Number(1, 40, required=True),
                "depth_cm": Number(1, 40, required=True),
            },
            many=True,
        ),
        "facing": Table({"opening_cm": Number(2, 40), "collar": Switch()}),
        "dart": Table(
            {
                "place": Text(choices=SHOULDERS),
                "azimuth_deg": Number(0, 360),
                "length_cm": Number(2, 60),
                "intake_cm": Number(0, 40),
                "leg_bow_cm": Number(-3, 3),
                "point_short_cm": Number(-15, 15),
            },
            many=True,
        ),
        "piecing": Table(
            {
                "width_cm": Number(0, 400),
                "grain_deg": Number(-90, 90),
                "levels_cm": Number(-250, 250, several=True),
            }
        ),
        "cross_seam": Table(
            {
                "strip": Number(1, 40, required=True, plain=True, whole=True),
                "at_cm": Number(-250, 250, required=True, several=True),
            },
            many=True,
        ),
        "lay": Table(
            {
                "nap": Text(choices=("none", "one way")),
                "fold": Text(choices=FOLDS),
                "shrinkage_percent": Number(0, 40),
                "price_per_metre": Number(0, 100_000, plain=True),
            }
        ),
        "flaw": Table(
            {
                "along_cm": Number(0, 5000, required=True),
                "across_cm": Number(0, 400, required=True),
                "radius_cm": Number(0.5, 100, required=True),
            },
            many=True,
        ),
        "settle": Table(
            {
                "edge_length_cm": Number(0.5, 6),
                "max_steps": Number(1, 10_000_000, plain=True, whole=True),
            }
        ),
        "wear": Table({"how": Text(choices=HOWS, several=True), "doing": Text(choices=DOINGS, several=True)}),
        "verdict": Table(
            {name: Number(limit.low, limit.high) for name, limit in {**THRESHOLDS, **WORN_THRESHOLDS}.items()}
        ),
        "picture": Table({"outside": Colour(), "inside": Colour(), "figure": Colour()}),
    }
)
