"""Growing a solid: against the ball, the torus and Steiner's formula; the order of its error."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.offset import grown
from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.mistake import BadInput
from tests.steps import solids


def evenly(amount: float):  # type: ignore[no-untyped-def]
    def level(points: Floats, at: Floats, which: Ints, direction: Floats, distance: Floats) -> Floats:
        less: Floats = distance - amount
        return less

    return level


def torus(ring: float, tube: float, segments: int = 160) -> Mesh:
    angle = 2 * np.pi * np.arange(segments) / segments
    return solids.turned([(ring + tube * np.cos(a), tube * np.sin(a)) for a in angle], segments)


def test_a_grown_torus_has_the_radius_asked_for() -> None:
    solid = grown(torus(5.0, 1.0), evenly(0.2), 0.2, 0.1)
    assert solids.closed(solid)
    tube = np.hypot(np.hypot(solid.vertices_mm[:, 0], solid.vertices_mm[:, 1]) - 5.0, solid.vertices_mm[:, 2])
    # Inward by a chord of a cell on the tube and one along the ring; outward on the inner side, where the ring is
    # hollow, by such a chord and by the flat facets of the mesh itself.
    facet = 5.0 * (1 - np.cos(np.pi / 160))
    assert tube.min() > 1.2 - 2 * 0.1**2 / (8 * 1.2) - facet
    assert tube.max() < 1.2 + 0.1**2 / (8 * 3.8) + facet
    assert solids.volume(solid) == pytest.approx(2 * np.pi * 5.0 * np.pi * 1.2**2, rel=2e-3)


def test_a_grown_box_obeys_steiners_formula() -> None:
    amount = 0.4
    solid = grown(solids.box((0, 0, 0), (3, 4, 5)), evenly(amount), amount, 0.1)
    edges = 4 * (3 + 4 + 5)
    exact = 60 + 94 * amount + edges * np.pi / 4 * amount**2 + 4 / 3 * np.pi * amount**3
    assert solids.volume(solid) == pytest.approx(exact, rel=1e-3)


def test_the_error_falls_with_the_square_of_the_cell() -> None:
    mesh = torus(3.0, 1.0, 220)
    exact = 2 * np.pi * 3.0 * np.pi * 1.3**2
    cells = np.array([0.4, 0.2, 0.1])
    errors = [abs(solids.volume(grown(mesh, evenly(0.3), 0.3, h)) / exact - 1) for h in cells]
    order = np.polyfit(np.log(cells), np.log(errors), 1)[0]
    assert 1.7 < order < 2.4


def test_what_overlaps_when_grown_becomes_one() -> None:
    apart = solids.united(solids.box((0, 0, 0), (1, 1, 1)), solids.box((1.3, 0, 0), (2.3, 1, 1)))
    from ringwright.science.solids import shells

    assert len(shells(grown(apart, evenly(0.1), 0.1, 0.05))) == 2
    assert len(shells(grown(apart, evenly(0.2), 0.2, 0.05))) == 1


def test_shrinking_is_refused() -> None:
    with pytest.raises(BadInput, match="0 mm or more"):
        grown(solids.box((0, 0, 0), (1, 1, 1)), evenly(-0.1), -0.1, 0.05)
