"""A cloak at rest on its wearer, on the coarsest mesh, for all tests of how it wears."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drape.fitting.scene import load_scene
from drape.fitting.sit import sit
from drape.wearing.ways import Cloak
from drape.wearing.wear import DOWN, cloak_of

EDGE = 0.06  # m


@pytest.fixture(scope="session")
def cloak() -> Cloak:
    scene = replace(load_scene("ferry-warden-tailored"), arms=DOWN)
    return cloak_of(scene, sit(scene, edge_length=EDGE))
