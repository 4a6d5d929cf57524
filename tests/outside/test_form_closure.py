"""Whether a stone is immobile: known counts of contacts, and a general solver of linear programmes asked the same."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.wrench import UNLIMITED, Contacts, directions, freedom, resisted
from ringwright.terms.body import Floats
from tests.agrees import agrees

MISHRA = (
    "B. Mishra, J. T. Schwartz, M. Sharir, On the existence and synthesis of multifinger positive grips, "
    "Algorithmica 2 (1987): seven frictionless contacts are needed in space"
)


def contacts(points: Floats, normals: Floats, group: list[int] | None = None) -> Contacts:
    return Contacts(points, normals, np.array(group or [UNLIMITED] * len(points)), np.zeros(3), 1.0)


def drawn(rng: np.random.Generator, count: int) -> Contacts:
    points, normals = rng.normal(size=(count, 3)), rng.normal(size=(count, 3))
    return contacts(points, normals / np.linalg.norm(normals, axis=1, keepdims=True))


def test_the_fewest_contacts_that_hold_a_general_body_are_seven() -> None:
    """Of contacts drawn at random: the least number at which any draw is immobile (of seven, one in 64 on average)."""
    rng = np.random.default_rng(11)
    for count in range(4, 9):
        if any(freedom(drawn(rng, count)).immobile for _ in range(400 if count == 7 else 50)):
            agrees(count, 7, within=0.01, source=MISHRA, what="fewest frictionless contacts that immobilise a body")
            return
    pytest.fail("not even eight contacts held")


def test_freedoms_of_round_bodies() -> None:
    """A ball held all round still turns about three axes, a cone in its seat about one."""
    p = directions(3)
    ball = freedom(contacts(p, -p))
    agrees(ball.slides.shape[1], 3, within=0.01, source="exact: a ball has three turns that move no surface",
           what="motions left to a ball that is held all round")  # fmt: skip
    turn = 2 * np.pi * np.arange(12) / 12
    rim = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(12)])
    slant = np.sqrt(0.5)
    up = np.column_stack([-rim[:, :2] * slant, np.full(12, slant)])
    lid, down = rim * [0.4, 0.4, 1.0], np.tile([0.0, 0.0, -1.0], (12, 1))
    cone = freedom(contacts(np.vstack([rim, lid]), np.vstack([up, down])))
    assert cone.escape is None and cone.slides_only_about(np.array([0.0, 0.0, 1.0]))
    agrees(cone.slides.shape[1], 1, within=0.01, source="exact: a cone has one turn that moves no surface",
           what="motions left to a cone under a lid")  # fmt: skip


def most(c: Contacts, pull: Floats) -> float:
    """The largest pull that pushes balance, by halving: whether a size is borne is asked of NNLS."""
    from scipy.optimize import nnls

    holders = sorted(set(c.group.tolist()) - {UNLIMITED})
    together = np.array([c.group == holder for holder in holders], dtype=np.float64).reshape(-1, len(c.points_mm))
    rows = np.block([[c.wrenches, np.zeros((6, len(holders)))], [together, np.eye(len(holders))]])

    def borne(much: float) -> bool:
        _, left = nnls(rows, np.concatenate([-much * pull, np.ones(len(holders))]), maxiter=1000)
        return bool(left < 1e-9)

    low, high = 0.0, 1e3
    if borne(high):
        return high
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if borne(middle) else (low, middle)
    return low


def test_pulls_and_closure_against_a_general_solver() -> None:
    """The same question put to another general method: non-negative least squares instead of a linear programme."""
    rng = np.random.default_rng(12)
    source = "C. L. Lawson, R. J. Hanson, Solving Least Squares Problems, 1974: NNLS as SciPy has it, and halving"
    held = 0
    for _ in range(8):
        free = drawn(rng, 14)
        c = contacts(free.points_mm, free.normals, [UNLIMITED] * 8 + [0, 0, 1, 1, 2, 2])
        pulls = rng.normal(size=(4, 6))
        for pull, found in zip(pulls, resisted(c, pulls), strict=True):
            theirs = most(c, pull)
            if theirs > 1e-6:
                agrees(float(found), theirs, within=1e-4, source=source, what="largest pull that contacts resist")
            else:
                assert found < 1e-6
        unlimited = contacts(c.points_mm, c.normals)
        immobile = all(most(unlimited, s * axis) > 1e-6 for axis in np.eye(6) for s in (1.0, -1.0))
        assert freedom(unlimited).immobile == immobile
        held += immobile
    assert 0 < held < 8, "the draw holds both kinds"
