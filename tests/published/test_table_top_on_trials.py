"""Table-top tests made on the simulated bench give back the cloth that was on it.

Problem: the strips, the bias strip and the board of `drape cloth`, each carried out by `drape.bench.strips` and
`drape.bench.sliding` on a cloth of known constants, read with a ruler and a protractor, written to a file.
Answer: the constants, inside the stated uncertainty as often as a standard uncertainty should hold them
(68 % within one, 95 % within two).
Source: the definitions of the constants (Peirce 1930 for the overhang, Kilby 1963 for the bias strip, Coulomb
1785 for the board, Lekhnitskii 1968 for the overhang at 45°); for the shares, the normal distribution. The overhang's
solver and reader share no code; how much its width stiffens a strip cut at 45° was found on this solver, with another
cloth.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from drape.bench.sliding import tilt
from drape.bench.specimen import Strip
from drape.bench.strips import bias, cantilever, direction_length
from drape.bench.table_top import load_measured_cloth
from drape.fitting.scene import load_cloth
from drape.units import STANDARD_GRAVITY

LINE = math.radians(41.5)
STRIP, WIDTH, LAYERS, SIDE = 0.6, 0.05, 8, 0.2  # m, m, pieces, m
BIAS_WIDTH = 0.012  # m
GRAMS = {"bias_strip": 100.0, "warp_strip": 500.0, "weft_strip": 500.0}
GRAINS = {"bias_strip": math.pi / 4, "warp_strip": 0.0, "weft_strip": math.pi / 2}
DRAWS = 40


def overhang(cloth, grain, guess, width=None):
    """The length [m] of which the strip's end hangs 41.5° below the edge; width [m], a quarter of it if left out."""

    def above(length):
        made = cantilever(cloth, Strip(length, width or length / 4, length / 20, grain))
        assert made.evidence.settled
        return made.chord - LINE

    return brentq(above, 1.9 * guess, 2.1 * guess, xtol=2e-4 * guess)


def stretch(cloth, strip):
    load = GRAMS[strip] / 1000 * STANDARD_GRAVITY / WIDTH
    made = bias(cloth, Strip(0.2, WIDTH, 0.0125, GRAINS[strip]), load=load)
    assert made.evidence.settled
    return made.extension * STRIP


@pytest.fixture(scope="module")
def cloth():
    return load_cloth("flannel")


@pytest.fixture(scope="module")
def bench(cloth):
    """What the bench shows: lengths [cm], stretches [mm], angles [deg], masses [g], without reading errors."""
    slips = [
        tilt(cloth, friction=friction, length=0.1, width=0.05, edge_length=0.0125).slip
        for friction in (cloth.friction_on_cloth, cloth.friction_on_figure)
    ]
    return {
        "side_cm": 100 * SIDE,
        "mass_g": 1000 * cloth.areal_density * SIDE**2,
        "warp_cm": 100 * overhang(cloth, 0.0, cloth.bending_length_warp),
        "weft_cm": 100 * overhang(cloth, math.pi / 2, cloth.bending_length_weft),
        "bias_cm": 100 * overhang(cloth, math.pi / 4, direction_length(cloth, math.pi / 4), BIAS_WIDTH),
        **{strip: 1000 * stretch(cloth, strip) for strip in GRAMS},
        "on_cloth_deg": math.degrees(slips[0]),
        "on_figure_deg": math.degrees(slips[1]),
        "height_mm": 1000 * LAYERS * cloth.thickness,
    }


def measurements(bench, rng, ruler=0.1, scales=1.0, angle=1.0):
    """A measurement file with normal reading errors of `ruler` [cm], `scales` [g], `angle` [deg]."""
    line = rng.normal(0, angle)  # ruled once: an overhang read at a steeper line is longer, L ~ θ^(1/2.2) near 41.5°

    def read(value, error):
        return round(value + rng.normal(0, error), 4) if error else value

    def over(value):
        return read(value * (1 + line * 0.0142), ruler)

    lines = ["[square]", f"side_cm = {read(bench['side_cm'], ruler)}", f"mass_g = {read(bench['mass_g'], scales)}"]
    lines += ["[overhang]"]
    for cut in ("warp", "weft", "left_bias", "right_bias"):
        for face in ("up", "down"):
            lines.append(f"{cut}_face_{face}_cm = {over(bench[cut.rpartition('_')[2] + '_cm'])}")
    lines.append(f"bias_width_cm = {read(100 * BIAS_WIDTH, ruler)}")
    for strip, grams in GRAMS.items():
        lines += [
            f"[{strip}]", f"length_cm = {read(100 * STRIP, ruler)}", f"width_cm = {read(100 * WIDTH, ruler)}",
            f"weight_g = {read(grams, scales)}", f"stretch_mm = {read(bench[strip], 10 * ruler)}",
        ]  # fmt: skip
    lines += ["[board]", *(f"{key} = {read(bench[key], angle)}" for key in ("on_cloth_deg", "on_figure_deg"))]
    lines += ["[stack]", f"layers = {LAYERS}", f"height_mm = {read(bench['height_mm'], 10 * ruler)}"]
    return "\n".join(lines) + "\n"


MEASURED = (
    "areal_density", "thickness", "bending_length_warp", "bending_length_weft", "twist_rigidity",
    "tensile_stiffness_warp", "tensile_stiffness_weft", "shear_stiffness", "friction_on_cloth", "friction_on_figure",
)  # fmt: skip


def misses(path, cloth, text):
    """How far each constant is out, in its own stated uncertainties."""
    path.write_text(text, encoding="utf-8")
    found = load_measured_cloth(path)
    assert not set(MEASURED) & set(found.filled)
    return [(getattr(found.cloth, key) - getattr(cloth, key)) / found.errors[key] for key in MEASURED]


def test_without_reading_errors_the_constants_come_back(bench, cloth, tmp_path):
    text = measurements(bench, np.random.default_rng(0), ruler=0.0, scales=0.0, angle=0.0)
    assert np.abs(misses(tmp_path / "bench.toml", cloth, text)).max() < 0.5


def test_with_reading_errors_the_uncertainties_hold_them(bench, cloth, tmp_path):
    rng = np.random.default_rng(1)
    out = np.abs([misses(tmp_path / "bench.toml", cloth, measurements(bench, rng)) for _ in range(DRAWS)])
    assert 0.58 < np.mean(out < 1) < 0.80
    assert 0.90 < np.mean(out < 2) < 0.99


def test_another_cloth_is_not_recovered(bench, cloth, tmp_path):
    """Negative control: a bench whose strips are 10 % stiffer in bending length is noticed."""
    stiff = dict(bench, warp_cm=1.1 * bench["warp_cm"], weft_cm=1.1 * bench["weft_cm"])
    text = measurements(stiff, np.random.default_rng(0), ruler=0.0, scales=0.0, angle=0.0)
    assert np.abs(misses(tmp_path / "bench.toml", cloth, text)).max() > 2
