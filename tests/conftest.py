"""Shared by the tests: rectangles of cloth on irregular meshes, and a plane to rest on."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings
from scipy.spatial import Delaunay
from turns import COMPILING, compile_in_turns

from drape.body.signed_distance import DistanceField
from drape.cloth.mesh import Mesh
from drape.cloth.sheet import Cloth

# Files that need the compiled loops; those that do not, but draw or lay; the many light ones are not named. A worker
# begins with a stretch of its own: the first with what compiles, another with what needs nothing compiled.
COMPILE = ("end_to_end/test_commands", "end_to_end", "published", "unit/fitting", "unit/test_cache", "unit/test_front",
           "unit/body", "unit/cloth", "unit/bench", "unit/draft")  # fmt: skip
DRAW = ("unit/picture", "unit/cutting", "unit/reading")

settings.register_profile("same each time", derandomize=True)  # what fails, fails again
settings.load_profile("same each time")


gc.disable()  # while tests are gathered: it takes a tenth of that time and finds next to nothing


class Backwards(pytest.Dir):
    """A folder whose last file is read first."""

    def collect(self) -> Iterable[pytest.Item | pytest.Collector]:
        return reversed(list(super().collect()))


def pytest_collect_directory(path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """Of two workers, one reads the files from the last: each prepares half of them, and finds the others prepared."""
    second = os.environ.get("PYTEST_XDIST_WORKER", "gw0")[-1] in "13579"
    return Backwards.from_parent(parent, path=path) if second else None


def pytest_collection_finish() -> None:
    gc.freeze()  # what is loaded now stays to the end
    gc.enable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Orders the tests so that two workers, who get half each to begin with, do not wait for the same loops."""
    folder = Path(__file__).parent
    items.sort(key=lambda one: one.path)  # whichever way they were read

    def place(item: pytest.Item, groups: tuple[str, ...]) -> int:
        path = item.path.relative_to(folder).as_posix()
        return next((k for k, group in enumerate(groups) if path.startswith(group)), len(groups))

    compiles = sorted((one for one in items if place(one, COMPILE) < len(COMPILE)), key=lambda one: place(one, COMPILE))
    draws = [one for one in items if place(one, DRAW) < len(DRAW)]
    chosen = {id(one) for one in (*compiles, *draws)}
    light = [one for one in items if id(one) not in chosen]
    before = max(0, len(items) // 2 - len(compiles))
    items[:] = [*compiles, *light[:before], *draws, *light[before:]]


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of this run that all its workers share."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session", autouse=True)
def one_cache(shared: Path) -> Iterator[None]:
    """No test reads or writes the user's cache, nor does a command that a test runs. Workers share one of their own.

    What a test settles, or builds, is there for all; each inner loop is compiled by one of them.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DRAPE_CACHE_DIR", str(shared / "cache"))
        done = compile_in_turns(shared / COMPILING)
        yield
        done()


MELTON = Cloth("heavy melton", 0.6, 0.003, 0.028, 0.025, 2000.0, 1500.0, 120.0, 0.1, 0.5, 0.4)


def rectangle(length: float, width: float, edge: float, seed: int) -> Mesh:
    """A rectangle from (0, 0) meshed irregularly; corners and sides kept."""
    columns, rows = round(length / edge), max(2, round(width / edge))
    x, y = np.meshgrid(np.linspace(0, length, columns + 1), np.linspace(0, width, rows + 1))
    flat = np.stack([x.ravel(), y.ravel()], axis=1)
    shift = np.random.default_rng(seed).uniform(-0.22, 0.22, flat.shape)
    inside = (flat > 1e-9) & (flat < np.array([length, width]) - 1e-9)
    flat = flat + shift * inside * [length / columns, width / rows]
    triangles = Delaunay(flat).simplices.astype(np.int64)
    a, b = flat[triangles[:, 1]] - flat[triangles[:, 0]], flat[triangles[:, 2]] - flat[triangles[:, 0]]
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    triangles[area < 0] = triangles[area < 0][:, [0, 2, 1]]
    triangles = triangles[np.abs(area) > 1e-3 * edge**2]
    return Mesh(flat=flat, triangles=triangles, edges={}, seams=np.empty((0, 2), dtype=np.int64))


def plane_field(slope: float) -> DistanceField:
    """Signed distance above a plane through the origin that falls `slope` [rad] along +x."""
    spacing = 0.02
    axis = [np.arange(-0.4, 0.8 + 1e-9, spacing), np.arange(-0.2, 0.4, spacing), np.arange(-0.6, 0.3, spacing)]
    x, _, z = np.meshgrid(*axis, indexing="ij")
    values = x * np.sin(slope) + z * np.cos(slope)
    return DistanceField(np.array([a[0] for a in axis]), spacing, np.ascontiguousarray(values))


def crumpled(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """One piece of cloth crumpled so that it crosses itself: positions and triangles."""
    mesh = rectangle(0.15, 0.12, 0.03, seed)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    return flat * [0.5, 0.5, 1] + np.random.default_rng(seed).normal(0, 0.015, flat.shape), mesh.triangles


@pytest.fixture
def make_crumpled() -> Callable[[int], tuple[np.ndarray, np.ndarray]]:
    return crumpled


@pytest.fixture
def melton() -> Cloth:
    return MELTON


@pytest.fixture
def make_rectangle() -> Callable[[float, float, float, int], Mesh]:
    return rectangle


@pytest.fixture
def make_plane() -> Callable[[float], DistanceField]:
    return plane_field


def sector(sweep: float, radius: float, edge: float, seed: int) -> Mesh:
    """A sector of a disc about its point at the origin, its straight sides a seam; `point`, `hem` in its edges.

    Rows of vertices about the point, moved a little but on its sides and hem; triangles between each row and the next.
    """
    random = np.random.default_rng(seed)
    rows = round(radius / edge)
    angles, points = [np.zeros(1)], [np.zeros((1, 2))]
    for row in range(1, rows + 1):
        r = radius * row / rows
        count = max(3, round(sweep * r / edge))
        inner = np.r_[0.0, np.ones(count - 1), 0.0]
        angles.append(sweep * (np.arange(count + 1) + inner * random.uniform(-0.15, 0.15, count + 1)) / count)
        away = r + inner * (row < rows) * random.uniform(-0.15, 0.15, count + 1) * radius / rows
        points.append(away[:, None] * np.stack([np.cos(angles[-1]), np.sin(angles[-1])], axis=1))
    ends = np.cumsum([len(row) for row in points])
    first, last = np.r_[0, ends[:-1]], ends - 1
    triangles = []
    for row in range(rows):
        i, j = first[row], first[row + 1]
        while i < last[row] or j < last[row + 1]:
            near, far = i - first[row], j - first[row + 1]
            outward = i == last[row] or (
                j < last[row + 1]
                and angles[row + 1][far + 1] + angles[row + 1][far] <= angles[row][near + 1] + angles[row][near]
            )
            triangles.append((i, j, j + 1) if outward else (i, j, i + 1))
            i, j = (i, j + 1) if outward else (i + 1, j)
    edges = {"point": np.array([0]), "hem": np.arange(first[-1], last[-1] + 1)}
    seams = np.stack([first[1:], last[1:]], axis=1)
    return Mesh(flat=np.concatenate(points), triangles=np.array(triangles, dtype=np.int64), edges=edges, seams=seams)


@pytest.fixture
def make_sector() -> Callable[[float, float, float, int], Mesh]:
    return sector
