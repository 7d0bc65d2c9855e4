"""The drape disc: a round specimen on a smaller round support, and the shadow it casts.

In: a `Cloth`, radii [m], how many starts. Out: a `Disc` with the drape coefficient as mean and spread, folds and
energy of every start, and the radial-strip floor. The test of G. E. Cusick, J. Text. Inst. 59 (1968), T253 (from
memory) and BS 5058:1973. A plate lies on the cloth as in the tester, so the cloth over the support is clamped flat.
The same cloth settles with different folds from different starts; that is cloth, not error, hence several.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from drape.arrays import Floats
from drape.bench import elastica
from drape.bench.specimen import ring_mesh
from drape.bench.strips import Drawing, Evidence, Tell, outlines, weight_ratio
from drape.cloth.body_contact import Touch
from drape.cloth.mesh import Mesh
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import Cloth, Sheet, cloth_forces, sew
from drape.units import STANDARD_GRAVITY

SETTLING_RESIDUAL = 0.01  # of a vertex's weight
SETTLING_REMAINING = 2e-4  # [m] still to move: a tenth of a point of the coefficient
START_WAVES = 5  # folds of the finest wave in a start; from finer ones cloth settles higher in energy
START_SHARE = 0.3  # of the overhang: height of those waves at the hem
FOLD_SHARE = 0.05  # of the overhang: a wave of the hem's radius lower than that is no fold
FLOOR_DIRECTIONS = 9  # strips from warp to weft


@dataclass(frozen=True)
class Disc:
    """Drape coefficient (shadow − support)/(specimen − support), 0 to 1, over several starts.

    drape_coefficient: mean; spread: half the range. coefficients, nodes (folds) and energies [J] of every start;
    lowest: coefficient of the start of least energy. floor: of independent radial strips, which hang lower than
    cloth can.
    """

    drape_coefficient: float
    spread: float
    coefficients: tuple[float, ...]
    nodes: tuple[int, ...]
    energies: tuple[float, ...]
    lowest: float
    floor: float
    evidence: Evidence
    drawing: Drawing = field(repr=False)


def disc(
    cloth: Cloth,
    *,
    specimen: float,
    support: float,
    starts: int,
    edge_length: float,
    seed: int = 0,
    max_steps: int,
    tell: Tell | None = None,
) -> Disc:
    """The disc settled from several jittered starts; specimen and support are radii [m].

    Start k has mesh and waves of its own, chosen by seed + k. Layers of cloth may touch. The drawing is that of the
    start of least energy.
    """
    settling = Settling(residual=SETTLING_RESIDUAL, remaining=SETTLING_REMAINING, max_steps=max_steps)
    runs = [_settle(cloth, specimen, support, edge_length, seed + k, settling, tell) for k in range(starts)]
    coefficients = [shadow_share(run.worn, run.mesh, support, specimen) for run in runs]
    energies = [run.energy for run in runs]
    best = runs[int(np.argmin(energies))]
    return Disc(
        drape_coefficient=float(np.mean(coefficients)),
        spread=0.5 * (max(coefficients) - min(coefficients)),
        coefficients=tuple(coefficients),
        nodes=tuple(fold_count(run.worn[run.mesh.edges["hem"]], support, specimen) for run in runs),
        energies=tuple(energies),
        lowest=coefficients[int(np.argmin(energies))],
        floor=strip_floor(cloth, specimen=specimen, support=support),
        evidence=_together([run.evidence for run in runs]),
        drawing=Drawing(
            "seen from above, the start of least energy", outlines(best.worn[:, :2], best.mesh.triangles), [],
            [_circle(support), _circle(specimen)],
        ),
    )  # fmt: skip


@dataclass(frozen=True)
class _Run:
    worn: Floats
    mesh: Mesh
    energy: float
    evidence: Evidence


def _settle(
    cloth: Cloth,
    specimen: float,
    support: float,
    edge_length: float,
    seed: int,
    settling: Settling,
    tell: Tell | None,
) -> _Run:
    """One start, let fall."""
    mesh = ring_mesh(support, specimen, edge_length, seed=seed)
    held = mesh.edges["held"]
    sheet = sew(mesh, cloth, held=held)
    start = _waved(mesh.flat, support, specimen, seed)
    run = Relaxation(sheet, start, Touch(cloth.thickness), fixed=held)
    rest = relax(run, settling=settling, progress=None if tell is None else lambda r, m, _: tell(r, m))
    evidence = Evidence(
        vertices=len(sheet.mass), edge_length=edge_length, settled=rest.settled, residual=rest.residual,
        remaining=rest.remaining, steps=rest.steps, seconds=rest.seconds,
    )  # fmt: skip
    return _Run(rest.worn, mesh, energy_of(sheet, rest.worn), evidence)


def _waved(flat: Floats, support: float, specimen: float, seed: int) -> Floats:
    """The flat specimen with slight waves of random height and place, none at the support's edge."""
    random = np.random.default_rng([seed, 1])
    angle = np.arctan2(flat[:, 1], flat[:, 0])
    out = np.clip((np.hypot(*flat.T) - support) / (specimen - support), 0.0, 1.0)
    wave = sum(random.normal() * np.cos(k * angle + random.uniform(0, 2 * math.pi)) for k in range(2, START_WAVES + 1))
    return np.c_[flat, START_SHARE * (specimen - support) * out**2 * wave / math.sqrt(START_WAVES)]


def energy_of(sheet: Sheet, worn: Floats) -> float:
    """Elastic energy and weight times height [J]."""
    return cloth_forces(sheet, worn)[1] + STANDARD_GRAVITY * float(sheet.mass @ worn[:, 2])


def _together(runs: Sequence[Evidence]) -> Evidence:
    """The evidence of several runs: the worst of each, steps and seconds added."""
    return Evidence(
        vertices=max(run.vertices for run in runs),
        edge_length=runs[0].edge_length,
        settled=all(run.settled for run in runs),
        residual=max(run.residual for run in runs),
        remaining=max(run.remaining for run in runs),
        steps=sum(run.steps for run in runs),
        seconds=sum(run.seconds for run in runs),
    )


def shadow_share(worn: Floats, mesh: Mesh, support: float, specimen: float) -> float:
    """Drape coefficient of a settled specimen: what its shadow from above covers outside the support."""
    import shapely

    triangles = shapely.polygons(worn[mesh.triangles][:, :, :2])
    shadow = shapely.union_all([*triangles[shapely.is_valid(triangles)], shapely.Polygon(_circle(support))])
    outer = shapely.Polygon(_circle(specimen)).area
    inner = shapely.Polygon(_circle(support)).area
    return (shadow.area - inner) / (outer - inner)


def _circle(radius: float) -> Floats:
    """A closed circle of a thousand sides, its area right to 7 in a million."""
    angle = np.linspace(0.0, 2 * math.pi, 1001)
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def fold_count(hem: Floats, support: float, specimen: float) -> int:
    """Folds: waves of the hem's radius round the disc, (k, 3) by angle, higher than a twentieth of the overhang."""
    from scipy.signal import find_peaks

    radius = np.hypot(hem[:, 0], hem[:, 1])
    turned = np.roll(radius, -int(np.argmin(radius)))
    peaks, _ = find_peaks(np.r_[turned, turned[0]], prominence=FOLD_SHARE * (specimen - support))
    return len(peaks)


def strip_floor(cloth: Cloth, *, specimen: float, support: float) -> float:
    """Drape coefficient if the overhang were cut into independent radial strips, each a cantilever on its own grain.

    Whole cloth has hoop and shear stiffness besides and should hang higher. Own argument, not proven.
    """
    overhang = specimen - support
    reach = []
    for angle in np.linspace(0.0, math.pi / 2, FLOOR_DIRECTIONS):
        curve = elastica.cantilever(weight_ratio(cloth, overhang, float(angle)))
        reach.append(support + overhang * float(curve.points[-1, 0]))
    area = np.trapezoid(np.square(reach), dx=1.0 / (FLOOR_DIRECTIONS - 1))
    return float((area - support**2) / (specimen**2 - support**2))
