"""The right front thrown back over the shoulder by a hand, then let go: friction decides whether it stays.

Common practice, no source: rough cloth stays where it is thrown, slippery cloth slides down. By the belt's equation
(Euler; Eytelwein 1808) cloth over half a turn holds a weight e^(πμ) times its own end's: 1.4 at μ 0.1, 6.6 at μ 0.6.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth import sew
from drape.fitting import Settling, figure_of, sit
from drape.layers import crossing_count, weave
from drape.mesh import Mesh, seam_pairs
from drape.scene import load_scene
from drape.solver import Relaxation, relax

HAND = 16.0  # [N] at most
HOLD = 0.10  # [m] of cloth round the place that is gripped
SLID = 0.10  # [m] that the edge's middle has come down at least when the front slides
GRIPPED = 0.5  # of the way down the opening edge
WAY = ([0.12, 0.45, -0.10], [-0.04, 0.15, 0.45], [-0.10, -0.28, 0.35], [-0.12, -0.36, -0.10], [-0.13, -0.33, -0.10])


@pytest.fixture(scope="module")
def thrown():
    """Sheet, thrown shape still held, the opening edge's points and their heights before; without friction so far."""
    scene = load_scene("ferry-warden-tailored")
    fitting, figure = sit(scene, edge_length=0.05), figure_of(scene)
    mesh = Mesh(fitting.flat, fitting.triangles, fitting.edges, seam_pairs(fitting.draft, fitting.edges))
    sheet = sew(mesh, scene.cloth, grain=fitting.draft.grain)
    start = np.zeros((len(sheet.mass), 3))
    start[sheet.point_of_vertex] = fitting.worn
    opening = mesh.edges["front opening"]
    middle = opening[int(GRIPPED * len(opening))]
    grip = sheet.point_of_vertex[np.linalg.norm(mesh.flat - mesh.flat[middle], axis=1) < HOLD]
    run = Relaxation(
        sheet, start, thickness=scene.cloth.thickness, friction=0.0, field=figure.field, pull=np.zeros_like(start)
    )
    at = fitting.worn[middle]
    for goal in figure.landmarks["shoulder_point_right"] + np.array(WAY):
        for share in np.linspace(0, 1, 13)[1:]:
            for _ in range(3):
                short = at + share * (goal - at) - run.x[grip].mean(axis=0)
                run.pull[grip] = short * min(60.0, HAND / np.linalg.norm(short)) / len(grip)
                run.advance(60)
        at = goal
    return run, grip, sheet.point_of_vertex[opening], start


@pytest.mark.parametrize(("friction", "stays"), [(0.1, False), (0.6, True)])
def test_a_front_thrown_over_the_shoulder_stays_if_it_is_rough_enough(thrown, friction, stays):
    held, grip, opening, start = thrown
    half = opening[len(opening) // 2]
    run = Relaxation(
        held.sheet, held.x, thickness=held.thickness, friction=friction, layer_friction=friction, field=held.field,
        pull=held.pull.copy(),
    )  # fmt: skip
    run.advance(400)
    before = run.x[half, 2]
    run.pull[:] = 0.0
    rest = relax(run, settling=dataclasses.replace(Settling(), max_steps=30_000))
    assert rest.settled and crossing_count(weave(held.sheet.triangles), rest.worn) == 0
    over = before - start[half, 2]  # how much higher the throw has brought the edge's middle
    assert over > 0.10
    left = rest.worn[half, 2] - start[half, 2]
    assert (left > 0.7 * over) if stays else (left < over - SLID)
