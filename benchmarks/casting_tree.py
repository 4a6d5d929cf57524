"""The tree that the freezing benchmarks cast: a plain ring upright on a sprue, a stem and a button, in a flask."""

from __future__ import annotations

from typing import Any

from ringwright.terms.body import Mesh

RING_MM, SECTION_MM = 9.0, 1.0
FLASK_RADIUS_MM, FLASK_BOTTOM_MM, FLASK_TOP_MM = 32.0, -38.0, 38.0
"""A flask of 64 by 76 mm; the tree hangs in it from the open top."""


def ring_and_sprue() -> Mesh:
    """The ring (round section of 2 mm on 18 mm) and its sprue of 3 mm."""
    return _joined(_ring(), _sprue())


def tree() -> Mesh:
    """Ring, sprue, stem of 8 mm and button of 20 mm."""
    import trimesh

    stem = trimesh.creation.cylinder(4.0, segment=[(0, 0, 14), (0, 0, 27)], sections=96)
    button = trimesh.creation.cylinder(10.0, segment=[(0, 0, 26), (0, 0, 37)], sections=128)
    return _joined(_ring(), _sprue(), stem, button)


def _ring() -> Any:
    import numpy as np
    import trimesh

    solid = trimesh.creation.torus(RING_MM, SECTION_MM, major_sections=720, minor_sections=72)
    x, y, z = np.array(solid.vertices).T
    return trimesh.Trimesh(np.stack([x, -z, y - 4.0], axis=1), solid.faces, process=False)


def _sprue() -> Any:
    import trimesh

    return trimesh.creation.cylinder(1.5, segment=[(0, 0, 5.2), (0, 0, 15)], sections=64)


def _joined(*solids: Any) -> Mesh:
    import numpy as np
    import trimesh

    one = trimesh.boolean.union(list(solids), engine="manifold")
    return Mesh(np.array(one.vertices), np.array(one.faces))
