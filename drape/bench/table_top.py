"""Table-top tests: what a maker reads off ruler, kitchen scales and a board → a cloth, each value with its ±.

In: a measurement file (TOML, every reading's name ends in its unit). Out: `MeasuredCloth`, a `Cloth` in SI
with the standard uncertainty of every value, propagated from the reading errors; what was not measured is
filled from a known cloth and said to be. How it is written is left to `table_top_words`; how the tests are done is
drawn by `table_top_card`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from drape.bench import bias_overhang
from drape.cloth.sheet import FILLED_PLAIN, FILLED_SHARE, LEAST_TWIST, MOST_TWIST, Cloth
from drape.fitting.scene import load_cloth, refuse_other_kind, refuse_shipped_name
from drape.fitting.scene_keys import CLOTH_KEYS
from drape.schema import Keys, Number, Table, Text, checked_tables, fail, read_toml, refuse_missing
from drape.units import STANDARD_GRAVITY, bare_name, ending_of, from_si

LINE: Final = math.radians(41.5)  # the sloping line below the table edge
OVERHANG_RATIO: Final = 2.000350  # overhang over bending length there; elastica, tests/published/test_table_top.py
OVERHANG_SLOPE: Final = 1.578089  # [1/rad] its change with the line's angle; the same
FACES: Final = ("face_up", "face_down")
GRAINS: Final = ("warp", "weft")
SLANTS: Final = ("left_bias", "right_bias")  # strips cut at 45°: the warp running away, the far end leans that way
CUTS: Final = (*GRAINS, *SLANTS)

# What an overhang that was not read is taken for, from those that were; both from memory.
ONE_FACE: Final = 0.15  # of the rigidity: how far a face's, stiffer or limper by curl, lies from the mean of both
ONE_GRAIN: Final = (
    0.1  # of weft's bending length over warp's: how far a wool's lies from that of the wool it is filled from
)
ONE_SLANT: Final = 0.1  # of the rigidity: how far that of one bias, in a twill say, lies from the mean of both
WOOLS: Final = ("light suiting", "flannel", "coating", "fulled broadcloth", "heavy melton")  # to fill from
STEPS: Final = 100  # a slope is taken over this small a part of an uncertainty, up and down

# --- what a measurement file may say ----------------------------------------------------------

STRIP_KEYS: Final[Keys] = MappingProxyType(
    {
        "length_cm": Number(5, 200, required=True),
        "width_cm": Number(1, 50, required=True),
        "weight_g": Number(1, 20_000, required=True),
        "stretch_mm": Number(0.2, 500, required=True, several=True),
    }
)
READING_TABLES: Final[Mapping[str, Table]] = MappingProxyType(
    {
        "square": Table(
            {
                "side_cm": Number(4, 200, required=True, several=True),
                "mass_g": Number(0.2, 5000, required=True, several=True),
            }
        ),
        "overhang": Table(
            {
                **{f"{cut}_{face}_cm": Number(1, 16, several=True) for cut in CUTS for face in FACES},
                "bias_width_cm": Number(0.3, 5),
            }
        ),
        "bias_strip": Table(STRIP_KEYS, partial=True),  # a strip left out is filled; one begun is due whole
        "warp_strip": Table(STRIP_KEYS, partial=True),
        "weft_strip": Table(STRIP_KEYS, partial=True),
        "board": Table({"on_cloth_deg": Number(1, 56, several=True), "on_figure_deg": Number(1, 56, several=True)}),
        "stack": Table(
            {
                "layers": Number(1, 200, required=True, plain=True, whole=True),
                "height_mm": Number(0.2, 500, required=True, several=True),
            },
            partial=True,
        ),
    }
)
MEASUREMENT_TABLES: Final[Mapping[str, Table]] = MappingProxyType(
    {
        "cloth": Table({"name": Text(), "fill_from": Text()}, renamed=MappingProxyType({"preset": "fill_from"})),
        **READING_TABLES,
        "reading_errors": Table(
            {"ruler_mm": Number(0.01, 20), "scales_g": Number(0.001, 200), "angle_deg": Number(0.01, 10)}
        ),
    }
)
READING_ERRORS: Final = MappingProxyType({"ruler": 0.001, "scales": 0.001, "angle": math.radians(1.0)})  # m, kg, rad
INSTRUMENT: Final = MappingProxyType({"_cm": "ruler", "_mm": "ruler", "_g": "scales", "_deg": "angle"})

STARTER_MEASUREMENTS: Final = """\
# Table-top tests of one cloth, for drape. How each is done is drawn in CARD.
# Every number's name ends in its unit. Take the # away from the lines you have measured and write your own
# numbers; those shown are only examples. Several readings of one thing: [11.2, 11.4, 11.1].
# Only the square is due. What is left out is filled from a shipped cloth and marked as filled. Of the overhangs
# one face or one direction alone will do: the others are filled from it, and their ± grows.
# Work it out with:  drape cloth FILE

[cloth]
# name = "grey melton, second bolt"
# fill_from = "heavy melton"      # a shipped cloth, or a cloth file; left out: the shipped wool nearest in weight

[square]
# side_cm = 20.0                  # cut square; a larger one is surer
# mass_g = 24.0

[overhang]                        # of a strip whose end has come down to the line 41.5 degrees below the edge
# warp_face_up_cm = [5.7, 5.6]
# warp_face_down_cm = [5.4, 5.6]
# weft_face_up_cm = [5.2, 5.0]
# weft_face_down_cm = [4.9, 5.1]
# left_bias_face_up_cm = [5.1, 5.0]    # cut at 45 degrees; the warp running away from you, its far end leans left
# left_bias_face_down_cm = [4.9, 5.1]
# right_bias_face_up_cm = [5.0, 5.1]
# right_bias_face_down_cm = [5.0, 5.0]
# bias_width_cm = 1.0             # of these two strips: the narrower the better

[bias_strip]                      # cut at 45 degrees
# length_cm = 60.0                # between two marks well away from the clips, strip hanging with no weight
# width_cm = 5.0
# weight_g = 100.0                # what was hung on it, clip included
# stretch_mm = [27.0, 28.0]       # how much farther apart the marks then are

[warp_strip]                      # cut along the warp
# length_cm = 60.0
# width_cm = 5.0
# weight_g = 500.0
# stretch_mm = [29.0, 30.0]

[weft_strip]
# length_cm = 60.0
# width_cm = 5.0
# weight_g = 500.0
# stretch_mm = [38.0, 39.0]

[board]                           # the tilt at which a piece of the cloth slips
# on_cloth_deg = [26.0, 27.0, 27.0]
# on_figure_deg = [22.0, 21.0, 22.0]   # on what is worn beneath, linen for example

[stack]                           # of pieces, under a light book cover
# layers = 8
# height_mm = 24.0

[reading_errors]                  # how far one reading may well be out: two in three lie nearer
# ruler_mm = 1.0
# scales_g = 1.0
# angle_deg = 1.0
"""


# --- what comes out ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Reading:
    """The mean of some readings of one thing and its standard uncertainty; SI."""

    value: float
    error: float


BIAS_WIDTH: Final = Reading(0.01, 0.001)  # m, of strips cut at 45° where it is not said, as the card asks


@dataclass(frozen=True)
class MeasuredCloth:
    """A cloth from table-top tests; SI.

    errors: standard uncertainty of each number of `cloth`, and of `rigidity_warp` and `rigidity_weft`.
    filled: names of the values that were not measured. filled_from: the cloth they come from.
    readings: means as read, under `table.name`, with their own errors.
    """

    cloth: Cloth
    errors: Mapping[str, float]
    filled: tuple[str, ...]
    filled_from: str
    readings: Mapping[str, Reading]


def load_measured_cloth(path: Path) -> MeasuredCloth:
    """The cloth that the readings in a measurement file make, with uncertainties.

    Raises SceneError: one line with the file, the key, the value, what is allowed.
    """
    label = str(path)
    document = read_toml(path, label)
    refuse_other_kind(document, "tests", label)
    tables = checked_tables(document, {}, MEASUREMENT_TABLES, label)
    for name in ("bias_strip", "warp_strip", "weft_strip", "stack"):
        if tables[name]:
            refuse_missing(tables[name], READING_TABLES[name].keys, label, name)
    name = tables["cloth"].get("name", path.stem)
    refuse_shipped_name(name, f"{label}, cloth.name")
    readings = means(tables, {**READING_ERRORS, **tables["reading_errors"]})
    density = readings["square.mass"].value / readings["square.side"].value ** 2
    fill_from = tables["cloth"].get("fill_from") or nearest_wool(density)
    model = load_cloth(fill_from, beside=path.parent, where=f"{label}, cloth.fill_from")
    return measured_cloth(readings, model, name=name, label=label)


def nearest_wool(density: float) -> str:
    """The shipped wool whose areal density [kg/m²] is nearest, by ratio."""
    return min(WOOLS, key=lambda name: abs(math.log(load_cloth(name).areal_density / density)))


# --- readings and their errors ----------------------------------------------------------------


def means(tables: Mapping[str, Mapping[str, Any]], errors: Mapping[str, float]) -> dict[str, Reading]:
    """The mean of each reading, under `table.name`, with its standard uncertainty; and the line's angle.

    tables: checked, in SI. errors: of one reading by ruler [m], scales [kg] and angle [rad], independent
    from reading to reading. Where readings were repeated, their scatter is taken, pooled over the lists of
    one table and instrument, if it is larger than the instrument's error; and the mean of n is √n surer.
    """
    found = {"line": Reading(LINE, errors["angle"])}  # one line for all strips: does not average out
    for table, rule in READING_TABLES.items():
        lists: dict[str, dict[str, tuple[float, ...]]] = {}
        for key in rule.keys:
            name, instrument = bare_name(key), INSTRUMENT.get(ending_of(key), "")
            value = tables[table].get(name)
            if isinstance(value, tuple):
                lists.setdefault(instrument, {})[name] = value
            elif value is not None:
                found[f"{table}.{name}"] = Reading(value, errors[instrument] if instrument else 0.0)  # a count is exact
        for instrument, group in lists.items():
            error = max(errors[instrument], scatter(group))
            for name, readings in group.items():
                count = len(readings)
                found[f"{table}.{name}"] = Reading(sum(readings) / count, error / math.sqrt(count))
    return found


def scatter(group: Mapping[str, tuple[float, ...]]) -> float:
    """Pooled standard deviation of repeated readings about their own means, 0 where none was repeated.

    Widened by Student's factor, so that ± it holds two cases in three however few the readings.
    Source: JCGM 100:2008 (GUM), 4.2 and G.3; 0.8413 is one standard deviation of a normal.
    """
    from scipy.special import stdtrit

    freedom = sum(len(readings) - 1 for readings in group.values())
    if freedom == 0:
        return 0.0
    squares = 0.0
    for readings in group.values():
        mean = sum(readings) / len(readings)
        squares += sum((reading - mean) ** 2 for reading in readings)
    return float(stdtrit(freedom, 0.8413447)) * math.sqrt(squares / freedom)


# --- readings to constants --------------------------------------------------------------------


def constants(readings: Mapping[str, float]) -> dict[str, float]:
    """Every number of a cloth from mean readings (`table.name`), filled values (`filled.name`),
    `line` and `curl_warp`; SI.

    Areal density w = mass / side². Bending length c = overhang / 2.00035 where the chord to the strip's end
    lies 41.5° below the edge; rigidity B = w g c³, the mean of both faces; see `bending_lengths` where one was not
    read, and `twist_rigidity` for strips cut at 45°. Friction = tan of the tilt.
    Thickness = height / layers. Straight strips give E1 and E2, the bias one
    1/G = 4/E45 − 1/E1 − 1/E2 + 2ν/E1.
    Source: F. T. Peirce, J. Text. Inst. 21 (1930), T377, with the elastica's ratio in place of his formula;
    W. F. Kilby, J. Text. Inst. 54 (1963), T9 (both from memory).
    """
    found = {name.removeprefix("filled."): value for name, value in readings.items() if name.startswith("filled.")}
    share = found.pop("twist_share", 0.0)
    found["areal_density"] = readings["square.mass"] / readings["square.side"] ** 2
    found |= bending_lengths(readings)
    for grain in GRAINS:
        weight = found["areal_density"] * STANDARD_GRAVITY
        found[f"rigidity_{grain}"] = weight * found[f"bending_length_{grain}"] ** 3
        if f"{grain}_strip.stretch" in readings:
            found[f"tensile_stiffness_{grain}"] = strip_stiffness(readings, f"{grain}_strip")
    found["twist_rigidity"] = twist_rigidity(readings, found, share)
    if "bias_strip.stretch" in readings:
        e1, e2 = found["tensile_stiffness_warp"], found["tensile_stiffness_weft"]
        compliance = 4 / strip_stiffness(readings, "bias_strip") - 1 / e1 - 1 / e2 + 2 * found["poisson_ratio"] / e1
        found["shear_stiffness"] = 1 / compliance if compliance else math.inf
    for key in ("on_cloth", "on_figure"):
        if f"board.{key}" in readings:
            found[f"friction_{key}"] = math.tan(readings[f"board.{key}"])
    if "stack.height" in readings:
        found["thickness"] = readings["stack.height"] / readings["stack.layers"]
    return found


def bending_lengths(readings: Mapping[str, float]) -> dict[str, float]:
    """Bending length [m] of the grains whose overhang was read, under `bending_length_warp` and `_weft`.

    Of both faces the rigidities' mean. One face alone is taken to be stiffer than that mean by the share `curl_warp`,
    the face down limper. One grain alone gives the other too, by `weft_to_warp`.
    """
    cubes = cubed_lengths(readings)
    found = {f"bending_length_{grain}": cubes[grain] ** (1 / 3) for grain in GRAINS if grain in cubes}
    if len(found) == 1 and "weft_to_warp" in readings:
        if "bending_length_warp" in found:
            found["bending_length_weft"] = found["bending_length_warp"] * readings["weft_to_warp"]
        else:
            found["bending_length_warp"] = found["bending_length_weft"] / readings["weft_to_warp"]
    return found


def cubed_lengths(readings: Mapping[str, float]) -> dict[str, float]:
    """Bending length³ [m³] of every cut whose overhang was read: the mean of both faces, see `bending_lengths`."""
    ratio = OVERHANG_RATIO + OVERHANG_SLOPE * (readings["line"] - LINE)
    found = {}
    for cut in CUTS:
        faces = read_faces(readings, cut)
        cubes = [(readings[f"overhang.{cut}_{face}"] / ratio) ** 3 for face in faces]
        if len(faces) == 1:
            curl = readings[f"curl_{cut}"]
            cubes = [cubes[0] / (1 + (curl if faces[0] == "face_up" else -curl))]
        if cubes:
            found[cut] = sum(cubes) / len(cubes)
    return found


def twist_rigidity(readings: Mapping[str, float], found: Mapping[str, float], share: float) -> float:
    """Twist rigidity [N·m] from the strips cut at 45°, or `share` of the mean rigidity where none was read.

    Left and right bias bend alike in cloth that is the same in a mirror; the mean is taken, since a twill is not. One
    alone is taken to be stiffer than the mean by the share `slant`. found: areal density and rigidities.
    """
    warp, weft = found["rigidity_warp"], found["rigidity_weft"]
    cubes = [cube for cut, cube in cubed_lengths(readings).items() if cut in SLANTS]
    if cubes:
        cube = sum(cubes) / len(cubes) / (1 + (readings["slant"] if len(cubes) == 1 else 0.0))
        slender = readings["overhang.bias_width"] / (OVERHANG_RATIO * cube ** (1 / 3))
        bias = found["areal_density"] * STANDARD_GRAVITY * cube
        return bias_overhang.twist_rigidity(bias, warp, weft, poisson=found["poisson_ratio"], slender=slender)
    return share * math.sqrt(warp * weft)


def read_faces(readings: Mapping[str, object], cut: str) -> tuple[str, ...]:
    """The faces on which the overhang of strips cut that way was read."""
    return tuple(face for face in FACES if f"overhang.{cut}_{face}" in readings)


def strip_stiffness(readings: Mapping[str, float], strip: str) -> float:
    """Stiffness [N/m] of a strip stretched by a weight: line tension T = E e λ, e = (λ² − 1)/2, λ = 1 + strain.

    That is how drape's own cloth stretches (Green strain); for small stretch it is tension over strain, and
    at 5 % it is 7 % less. The strip's own weight drops out: it hangs on the strip before and after.
    """
    tension = readings[f"{strip}.weight"] * STANDARD_GRAVITY / readings[f"{strip}.width"]
    longer = 1 + readings[f"{strip}.stretch"] / readings[f"{strip}.length"]
    return tension / (longer * (longer**2 - 1) / 2)


def measured_cloth(readings: Mapping[str, Reading], model: Cloth, *, name: str, label: str) -> MeasuredCloth:
    """The cloth of some readings, what they do not say filled from `model`, errors propagated linearly.

    u² = Σ (∂value/∂reading · u_reading)², slopes by central differences.
    Source: JCGM 100:2008 (GUM), 5.1.2. Raises SceneError when the constants are not those of a cloth.
    """
    filled = tuple(key for key in FILLABLE if not any(name in readings for name in MEASURED_BY.get(key, ())))
    _refuse_bias_alone(readings, label)
    known = {**_filled(filled, model), **_assumed(readings, model), **readings}
    middle = {key: reading.value for key, reading in known.items()}
    values = constants(middle)
    _refuse_stiff_bias(values, middle, label)
    _refuse_bias_overhang(values, middle, label)
    source = f"table-top tests, {Path(label).name}"
    source += f"; filled from {model.name}: {', '.join(filled)}" if filled else ""
    own = {key: edge_value(key, values[bare_name(key)]) for key in NUMBER_KEYS}
    cloth = load_cloth(None, {**own, "source": source}, label=f"{label}, as measured")
    return MeasuredCloth(
        cloth=replace(cloth, name=name),
        errors=MappingProxyType(propagated(known)),
        filled=filled,
        filled_from=model.name,
        readings=MappingProxyType(dict(readings)),
    )


def _assumed(readings: Mapping[str, Reading], model: Cloth) -> dict[str, Reading]:
    """What stands in for overhangs that were not read: curl unknown either way, weft to warp as in `model`."""
    read = {cut: len(read_faces(readings, cut)) for cut in CUTS}
    assumed = {f"curl_{cut}": Reading(0.0, ONE_FACE) for cut, faces in read.items() if faces == 1}
    if any(read[slant] for slant in SLANTS):
        assumed["overhang.bias_width"] = BIAS_WIDTH
    if min(read[slant] for slant in SLANTS) == 0 < max(read[slant] for slant in SLANTS):
        assumed["slant"] = Reading(0.0, ONE_SLANT)
    if min(read[grain] for grain in GRAINS) == 0 < max(read[grain] for grain in GRAINS):
        likely = model.bending_length_weft / model.bending_length_warp
        assumed["weft_to_warp"] = Reading(likely, ONE_GRAIN * likely)
    return assumed


def propagated(known: Mapping[str, Reading]) -> dict[str, float]:
    """Standard uncertainty of every constant; see `measured_cloth`."""
    middle = {key: reading.value for key, reading in known.items()}
    variance = dict.fromkeys(constants(middle), 0.0)
    for key, reading in known.items():
        if reading.error == 0:
            continue
        step = reading.error / STEPS
        above = constants({**middle, key: reading.value + step})
        below = constants({**middle, key: reading.value - step})
        for name in variance:
            variance[name] += (STEPS * (above[name] - below[name]) / 2) ** 2
    return {name: math.sqrt(square) for name, square in variance.items()}


NUMBER_KEYS: Final = tuple(key for key, rule in CLOTH_KEYS.items() if isinstance(rule, Number))
MEASURED_BY: Final = MappingProxyType(
    {
        "thickness": ("stack.height",),
        "shear_stiffness": ("bias_strip.stretch",),
        "friction_on_cloth": ("board.on_cloth",),
        "friction_on_figure": ("board.on_figure",),
        **{f"bending_length_{grain}": tuple(f"overhang.{grain}_{face}" for face in FACES) for grain in GRAINS},
        "twist_rigidity": tuple(f"overhang.{slant}_{face}" for slant in SLANTS for face in FACES),
        **{f"tensile_stiffness_{grain}": (f"{grain}_strip.stretch",) for grain in GRAINS},
    }
)
FILLABLE: Final = tuple(bare_name(key) for key in NUMBER_KEYS if key != "areal_density_g_m2")


def _filled(names: Sequence[str], model: Cloth) -> dict[str, Reading]:
    """What stands in for the values that were not measured: the model's; of twist, its share."""
    keys = ["twist_share" if name == "twist_rigidity" else name for name in names]
    return {f"filled.{key}": Reading(getattr(model, key), _spread(key, model)) for key in keys}


def _spread(key: str, model: Cloth) -> float:
    """Standard uncertainty of a value filled from a model."""
    if key in FILLED_PLAIN:
        return FILLED_PLAIN[key]
    share = FILLED_SHARE[key.removesuffix("_warp").removesuffix("_weft")]
    return share * float(getattr(model, key))


def _refuse_stiff_bias(values: Mapping[str, float], readings: Mapping[str, float], label: str) -> None:
    if values["shear_stiffness"] > 0:
        return
    stretch = 100 * readings["bias_strip.stretch"] / readings["bias_strip.length"]
    fail(
        f"{label}, bias_strip.stretch_mm",
        f"got {stretch:.2g} % of the length, allowed more than the straight grains alone would give",
        "Check that the strip is cut at 45 degrees, and its weight and width.",
    )


def _refuse_bias_alone(readings: Mapping[str, object], label: str) -> None:
    """Refuse strips cut at 45° where none was read along warp or weft: what they say is how much stiffer or limper."""
    slants = [slant for slant in SLANTS if read_faces(readings, slant)]
    if slants and not any(read_faces(readings, grain) for grain in GRAINS):
        fail(
            f"{label}, overhang", f"got {slants[0]} without warp or weft, allowed with either",
            "Read the overhang of a warp strip too.",
        )  # fmt: skip


def _refuse_bias_overhang(values: Mapping[str, float], readings: Mapping[str, float], label: str) -> None:
    share = values["twist_rigidity"] / math.sqrt(values["rigidity_warp"] * values["rigidity_weft"])
    if LEAST_TWIST <= share <= MOST_TWIST:
        return
    read = [readings[name] for name in MEASURED_BY["twist_rigidity"] if name in readings]
    fail(
        f"{label}, overhang", f"got bias strips of {100 * sum(read) / len(read):.3g} cm, allowed "
        f"{'less' if share > 0.5 else 'more'} beside those of warp and weft",
        "Check that they are cut at 45 degrees, and read to the same line.",
    )  # fmt: skip


def edge_value(key: str, value: float) -> float:
    """A value in the unit its key names, to four figures: no reading on a table is surer."""
    return float(f"{from_si(key, value) if ending_of(key) else value:.4g}")
