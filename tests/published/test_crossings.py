"""Problem: does a sheet pass through itself? Answer: that of an independent library's exact test.

Source: ipctk (Ferguson and others, MIT), `has_intersections`, the collision tests of Incremental Potential Contact
(Li and others, ACM Trans. Graph. 39(4), 2020). Sheets are crumpled at random, from flat to hopelessly tangled.
"""

from __future__ import annotations

import ipctk
import numpy as np
import pytest

from drape.cloth.self_contact import crossing_count, weave


def by_library(triangles: np.ndarray, x: np.ndarray) -> bool:
    """Whether the library finds any two edges and triangles that cross."""
    mesh = ipctk.CollisionMesh(x, weave(triangles).edges, triangles)
    return ipctk.has_intersections(mesh, np.asfortranarray(x))


@pytest.mark.parametrize("seed", range(3))
def test_crossings_are_found_where_the_library_finds_them(make_rectangle, seed):
    random = np.random.default_rng(seed)
    mesh = make_rectangle(0.15, 0.12, 0.03, seed)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    answers = []
    for k in range(60):
        x = flat + random.normal(scale=0.02 * (k / 60) ** 2, size=flat.shape)
        answers.append(by_library(mesh.triangles, x))
        assert (crossing_count(weave(mesh.triangles), x) > 0) == answers[-1]
    assert 10 < sum(answers) < 50
