"""Wear: a scene's cloak settled, worn in one way after another, and moved about in.

In: a `Scene`, the ways and the moves wanted. Out: a `Wearing`: for each its readings and the shapes it came to. It
starts from the settled fitting; each way is a chain of rests in which friction remembers what it held.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from drape.cloth.mesh import Mesh, seam_pairs
from drape.cloth.relaxation import Rest
from drape.errors import SceneError
from drape.fitting.quality import HOWS
from drape.fitting.scene import Scene
from drape.fitting.sit import figure_of, sewn_sheet, sit
from drape.progress import Progress, Tell, within
from drape.reading.result import Fitting
from drape.reading.verdict import WORN_THRESHOLDS
from drape.units import rounded
from drape.wearing.choices import LEAN_DEG, STANDING, USUAL_LEAN_DEG
from drape.wearing.moving import FellError, Wearer
from drape.wearing.posture import carried_by, joints_of
from drape.wearing.readings import read_rest, slid, worn_now, worst_of
from drape.wearing.sentences import shape_name
from drape.wearing.ways import LEAN, CannotError, Cloak, Put, moves, put

DOWN: Final = ("down", "down")
SETTLING: Final = 0.2  # share of the whole run that settling takes, about


@dataclass(frozen=True)
class Shape:
    """The cloth at one rest, as a fitting that can be drawn and saved. words: where in the move it is."""

    words: str
    fitting: Fitting


@dataclass(frozen=True)
class Way:
    """One way of wearing, with what is done in it: readings with units in their names, and the shapes of its rests."""

    readings: Mapping[str, Any]
    shapes: tuple[Shape, ...]


@dataclass(frozen=True)
class Wearing:
    """A cloak worn in some ways. left_out: each way or move that cannot be, and why, in one line."""

    scene: Scene
    fitting: Fitting
    ways: tuple[Way, ...]
    left_out: tuple[str, ...]

    @property
    def shapes(self) -> Iterator[Fitting]:
        """Every shape it came to, called by the scene, the way, and where in a move it is."""
        for way in self.ways:
            for shape in way.shapes:
                how = str(way.readings["how"])
                name = shape_name(self.scene.name, how, shape.words)
                worn = {"how": how, "doing": way.readings["doing"], "words": shape.words}
                about = {**shape.fitting.about, "worn": worn}
                yield replace(shape.fitting, name=name, about=about)


@dataclass(frozen=True)
class Asked:
    """What is wanted: ways, what is done in each, how far one leans [rad], triangles [m], which mesh."""

    hows: tuple[str, ...]
    doings: tuple[str, ...] = ()
    edge_length: float = 0.03
    lean: float = LEAN
    seed: int = 0
    cached: bool = True


def asked_of(
    scene: Scene, hows: Sequence[str], doings: Sequence[str], *, edge_length: float, lean_deg: float | None = None,
    seed: int = 0, cached: bool = True,
) -> Asked:  # fmt: skip
    """What a command asks; what it leaves out is as the scene says, or else every way. Raises SceneError."""
    least, most = LEAN_DEG
    wanted = USUAL_LEAN_DEG if lean_deg is None else lean_deg
    if not least <= wanted <= most:
        raise SceneError(f"--lean-deg: got {wanted:g}, allowed {least} to {most}. Nobody leans further on their feet.")
    return Asked(
        tuple(dict.fromkeys(hows)) or scene.worn.get("how") or HOWS,
        tuple(dict.fromkeys(doings)) or scene.worn.get("doing", ()), edge_length,
        float(np.radians(wanted)), seed, cached,
    )  # fmt: skip


def wear(scene: Scene, asked: Asked, *, progress: Tell | None = None) -> Wearing:
    """The scene's cloak worn in the ways asked for, each from the settled fitting on.

    Its arms hang at first, however the scene holds them. Raises what `sit` raises.
    """
    tell = within(progress, SETTLING, 1.0 - SETTLING) or (lambda _: None)
    scene = replace(scene, arms=DOWN)
    settling = within(progress, 0.0, SETTLING)
    fitting = sit(scene, edge_length=asked.edge_length, seed=asked.seed, cached=asked.cached, progress=settling)
    cloak = cloak_of(scene, fitting)
    ways: list[Way] = []
    left_out: list[str] = []
    parts = len(asked.hows) * (1 + len(asked.doings))
    for k, how in enumerate(asked.hows):
        done = k * (1 + len(asked.doings))
        tell(Progress("wear", done / parts, how))
        try:
            first, wearer, rest, cloth = _standing(how, cloak, fitting)
        except CannotError as error:
            left_out.append(f"{scene.name}: {error}")
            continue
        except FellError as error:
            left_out.append(f"{scene.name}: {how}: {error}.")
            continue
        ways.append(first)
        for n, doing in enumerate(asked.doings, start=1):
            part = within(tell, (done + n) / parts, 1.0 / parts)
            try:
                again = replace(cloth, wearer=wearer.again(rest))
                ways.append(_doing(doing, again, rest, first, asked.lean, progress=part))
            except FellError as error:
                left_out.append(f"{scene.name}: {how}, {doing}: {error}.")
    return Wearing(scene, fitting, tuple(ways), tuple(left_out))


def cloak_of(scene: Scene, fitting: Fitting) -> Cloak:
    """The cloak of a settled fitting, on its wearer. Raises SceneError if it has come from a file."""
    draft = fitting.draft
    if draft is None:
        raise SceneError(f"{scene.name}: reloaded without its draft, allowed a fitting of this run. Settle it afresh.")
    mesh = Mesh(fitting.flat, fitting.triangles, fitting.edges, seam_pairs(draft, fitting.edges))
    sheet = sewn_sheet(scene, draft, mesh)
    points = np.zeros((len(sheet.mass), 3))
    points[sheet.point_of_vertex] = fitting.worn
    return Cloak(scene, draft, mesh, sheet, joints_of(figure_of(scene)), points)


def _standing(how: str, cloak: Cloak, fitting: Fitting) -> tuple[Way, Wearer, Rest, Put]:
    """The cloak brought to a way of wearing, and at rest there."""
    began = time.perf_counter()
    worn = put(how, cloak)
    wearer, rest = worn.wearer, worn.wearer.rest()
    found = read_rest(how, worn.cloak, wearer, rest)
    far = slid(
        worn.before, rest.worn[worn.marked],
        carried_by(worn.surface, wearer.vertices, cloak.joints.thinned, worn.before),
    )  # fmt: skip
    told = _told(how, STANDING, found, far, cloak.scene, began)
    return Way(told, (Shape(STANDING, shape_of(worn.cloak, wearer, rest, fitting, told)),)), wearer, rest, worn


def _doing(
    doing: str, worn: Put, start: Rest, standing: Way, lean: float, *, progress: Tell | None = None
) -> Way:  # fmt: skip
    """A move from rest to rest and back to where it began."""
    began = time.perf_counter()
    cloak, wearer, how = worn.cloak, worn.wearer, str(standing.readings["how"])
    base = standing.shapes[0].fitting
    rests, shapes, rest = [], [], start
    tell, going = progress or (lambda _: None), moves(doing, cloak, wearer.posture, lean)
    for k, (words, posture) in enumerate(going):

        def told(share: float, done: int = k) -> None:
            tell(Progress("wear", (done + share) / len(going), f"{how}, {doing}"))

        told(0.0)
        wearer.move_to(posture, told=told)
        rest = wearer.rest()
        found = read_rest(how, cloak, wearer, rest)
        rests.append(found)
        shapes.append(Shape(words, shape_of(cloak, wearer, rest, base, {"settled": rest.settled})))
    far = slid(start.worn[worn.marked], rest.worn[worn.marked], np.zeros(3))
    found = worst_of(rests[:-1]) | {"settled": all(one["settled"] for one in rests)}
    way = _told(how, doing, found, far, cloak.scene, began)
    shapes = [replace(one, fitting=replace(one.fitting, readings={**way, **one.fitting.readings})) for one in shapes]
    return Way(way, tuple(shapes))


def _told(how: str, doing: str, found: Mapping[str, Any], far: float, scene: Scene, began: float) -> dict[str, Any]:
    limit = scene.limits.get("slid_cm", WORN_THRESHOLDS["slid_cm"].value)
    head = {"how": how, "doing": doing, "settled": found["settled"], "stays": 100 * far < limit, "slid_cm": 100 * far}
    told: dict[str, Any] = rounded(head | {k: v for k, v in found.items() if k not in head})
    return told | {"seconds": round(time.perf_counter() - began, 2)}


def shape_of(cloak: Cloak, wearer: Wearer, rest: Rest, base: Fitting, readings: Mapping[str, Any]) -> Fitting:
    """A rest as a fitting: what `base` is made of, in this shape on the wearer as they stand."""
    worn = worn_now(cloak, wearer, rest)
    figure = worn.figure
    return replace(
        base, readings=readings, worn=worn.points[worn.sheet.point_of_vertex], figure_vertices=figure.vertices,
        landmarks=dict(figure.landmarks), neck_base=figure.neck_base, shoulder_line_left=figure.shoulder_line_left,
        shoulder_line_right=figure.shoulder_line_right, grip=None,
    )  # fmt: skip
