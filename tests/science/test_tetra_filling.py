"""Tetrahedra that fill a solid: closed, positive, close to the surface, better as they get smaller."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.terms.body import Floats
from ringwright.terms.mistake import ComputingFault
from tests.science.tetrahedra.tetra import Tets, fill, largest_part, least_angles_deg


def torus(p: Floats) -> Floats:
    return 1.0 - np.hypot(np.hypot(p[:, 0], p[:, 1]) - 9.0, p[:, 2])


def box(p: Floats) -> Floats:
    return np.min(np.array([1.0, 1.3, 0.8]) - np.abs(p), axis=1)


def filled(edge_mm: float) -> Tets:
    return fill(torus, np.array([-10.0, -10.0, -1.0]), np.array([10.0, 10.0, 1.0]), edge_mm)


@pytest.fixture(scope="module")
def meshes() -> dict[float, Tets]:
    return {edge: filled(edge) for edge in (1.0, 0.6, 0.4)}


def test_every_cell_is_positive_and_none_is_a_sliver(meshes: dict[float, Tets]) -> None:
    for mesh in meshes.values():
        assert mesh.volumes_mm3.min() > 0
        assert least_angles_deg(mesh).min() > 10.0


def test_the_skin_is_closed_and_bounds_the_cells(meshes: dict[float, Tets]) -> None:
    for mesh in meshes.values():
        faces = mesh.skin_faces()
        edges = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        kinds, counts = np.unique(edges, axis=0, return_counts=True)
        assert (counts == 2).all()
        assert len(np.unique(faces)) - len(kinds) + len(faces) == 0  # the Euler number of a torus
        p = mesh.points_mm[faces]
        inside = np.einsum("ij,ij->i", p[:, 0], np.cross(p[:, 1], p[:, 2])).sum() / 6
        assert inside == pytest.approx(mesh.volumes_mm3.sum(), rel=1e-12)


def test_the_skin_lies_on_the_surface(meshes: dict[float, Tets]) -> None:
    for mesh in meshes.values():
        assert np.abs(torus(mesh.points_mm[mesh.skin])).max() < 2e-4


def test_the_volume_converges_with_the_square_of_the_edge(meshes: dict[float, Tets]) -> None:
    exact = 2 * np.pi**2 * 9.0
    edges = np.array(list(meshes))
    errors = np.array([1 - m.volumes_mm3.sum() / exact for m in meshes.values()])
    order = np.polyfit(np.log(edges), np.log(errors), 1)[0]
    assert 1.7 < order < 2.4


def test_a_box_with_sharp_edges_is_filled_too() -> None:
    mesh = fill(box, np.array([-1.0, -1.3, -0.8]), np.array([1.0, 1.3, 0.8]), 0.2)
    assert mesh.volumes_mm3.sum() == pytest.approx(8 * 1.0 * 1.3 * 0.8, rel=0.03)


def test_the_same_input_gives_the_same_mesh() -> None:
    a, b = filled(1.0), filled(1.0)
    assert (a.points_mm == b.points_mm).all() and (a.cells == b.cells).all()


def test_nothing_inside_is_said() -> None:
    with pytest.raises(ComputingFault, match="no lattice point"):
        fill(lambda p: np.full(len(p), -1.0), np.zeros(3), np.ones(3), 0.5)


def test_crumbs_are_dropped() -> None:
    def two_balls(p: Floats) -> Floats:
        big = 1.0 - np.linalg.norm(p, axis=1)
        return np.maximum(big, 0.4 - np.linalg.norm(p - [1.8, 0, 0], axis=1))

    both = fill(two_balls, np.array([-1.0, -1, -1]), np.array([2.2, 1, 1]), 0.25)
    one = largest_part(both)
    assert one.volumes_mm3.sum() == pytest.approx(4 / 3 * np.pi, rel=0.05)
    assert both.volumes_mm3.sum() > one.volumes_mm3.sum() * 1.04
    assert one.points_mm[:, 0].max() < 1.01
