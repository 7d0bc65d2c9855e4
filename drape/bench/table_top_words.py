"""A tested cloth as it is written: its table with every ±, its JSON object, its file for `[cloth]`.

In: a `MeasuredCloth`. Out: text, and the lines that the card shows. Working the cloth out is left to `table_top`.
"""

from __future__ import annotations

import json
import math
import textwrap
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from drape.bench.table_top import GRAINS, NUMBER_KEYS, MeasuredCloth, edge_value, read_faces
from drape.schema import plain_number
from drape.units import bare_name, ending_of, from_si, unit_of

COARSE: Final = 0.2  # a measured value less sure than this asks for a longer strip, more layers, more weight
WRITTEN_KEYS: Final = (*NUMBER_KEYS, "rigidity_warp_un_m", "rigidity_weft_un_m")
MEANING: Final = (
    "±: one standard uncertainty. The true value lies nearer in two cases of three, within twice ± in 19 of 20."
)
# What to do where a value came out coarse.
SURER: Final = MappingProxyType(
    {
        "areal_density": "weigh a larger square",
        "thickness": "stack more layers",
        "bending_length_warp": "measure more strips",
        "bending_length_weft": "measure more strips",
        "tensile_stiffness_warp": "hang more weight on a longer strip",
        "tensile_stiffness_weft": "hang more weight on a longer strip",
        "shear_stiffness": "hang more weight on a longer bias strip",
        "twist_rigidity": "measure more strips, of the bias both ways",
        "friction_on_cloth": "tilt more often",
        "friction_on_figure": "tilt more often",
    }
)


@dataclass(frozen=True)
class Line:
    """One value as it is written: key with its unit, value and ± in that unit, whether it was filled,
    and how it was found.
    """

    key: str
    value: float
    error: float
    filled: bool
    how: str

    @property
    def words(self) -> str:
        """`2.80 ± 0.05`, the value to the last place of its ±."""
        places = max(0, 1 - math.floor(math.log10(self.error))) if self.error else 3
        return f"{self.value:.{places}f} ± {self.error:.{places}f}"


def written(measured: MeasuredCloth) -> list[Line]:
    """Every value in the units of files, rigidities last."""
    lines = []
    for key in WRITTEN_KEYS:
        name = bare_name(key)
        error = measured.errors[name]
        shown_error = float(f"{from_si(key, error) if ending_of(key) else error:.2g}")
        lines.append(Line(key, edge_value(key, getattr(measured.cloth, name)), shown_error, *_how(name, measured)))
    return lines


def _how(name: str, measured: MeasuredCloth) -> tuple[bool, str]:
    """Whether a value was filled, and in words how it was found."""
    filled = (name.replace("rigidity", "bending_length") if name.startswith("rigidity") else name) in measured.filled
    grain = name.rpartition("_")[2]
    if not name.startswith(("rigidity", "bending_length")):
        return filled, f"filled from {measured.filled_from}" if filled else "measured"
    if not filled:
        return filled, "measured on one face" if len(read_faces(measured.readings, grain)) == 1 else "measured"
    other = GRAINS[1 - GRAINS.index(grain)]
    return filled, f"filled from the {other}" if read_faces(
        measured.readings, other
    ) else f"filled from {measured.filled_from}"


def measured_object(measured: MeasuredCloth) -> dict[str, Any]:
    """The cloth as JSON shows it: values under the keys of a scene, uncertainties under the same."""
    lines = written(measured)
    return {
        "cloth": measured.cloth.name,
        **{line.key: line.value for line in lines},
        "uncertainty": {line.key: line.error for line in lines},
        "filled": [line.key for line in lines if line.filled],
        "filled_from": measured.filled_from,
        "source": measured.cloth.source,
    }


def measured_table(measured: MeasuredCloth) -> str:
    """The cloth's values with their ±, one to a line, and what would make the coarse ones surer."""
    lines = [measured.cloth.name, ""]
    coarse = []
    for line in written(measured):
        name = bare_name(line.key)
        unit = f" [{unit_of(line.key).symbol}]" if ending_of(line.key) else ""
        share = 100 * line.error / line.value if line.value else math.inf
        how = line.how if line.filled else f"{line.how}, {share:.0f} %"
        lines.append(f"  {name.replace('_', ' ') + unit:<32}{line.words:>18}   {how}")
        if not line.filled and share > 100 * COARSE and name in SURER:
            coarse.append(f"{name.replace('_', ' ')}: {SURER[name]}")
    lines += ["", *textwrap.wrap(MEANING, 80)]
    if coarse:
        lines += ["", "Coarse readings", *(f"- {words}." for words in coarse)]
    return "\n".join(lines) + "\n"


def cloth_file_text(measured: MeasuredCloth) -> str:
    """The cloth as a file that a scene's `[cloth]` names as its cloth."""
    lines = [f"# A cloth for drape, from {measured.cloth.source.partition(';')[0]}.", f"# {MEANING}", "", "[cloth]"]
    lines.append(f"name = {json.dumps(measured.cloth.name, ensure_ascii=False)}")
    for line in written(measured):
        note = f"# ± {plain_number(line.error)}, {line.how}"
        start = "# " if line.key not in NUMBER_KEYS else ""
        lines.append(f"{f'{start}{line.key} = {line.value!r}':<40}{note}")
    lines.append(f"source = {json.dumps(measured.cloth.source, ensure_ascii=False)}")
    return "\n".join(lines) + "\n"
