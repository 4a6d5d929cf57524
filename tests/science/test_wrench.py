"""Form closure: what is known of balls, cones and boxes, and the count of contacts that a body in space needs."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.wrench import UNLIMITED, Contacts, directions, freedom, resisted
from ringwright.terms.body import Floats


def contacts(points: Floats, normals: Floats, group: list[int] | None = None) -> Contacts:
    n = len(points)
    return Contacts(points, normals, np.array(group if group else [UNLIMITED] * n), np.zeros(3), 1.0)


def on_ball(n: int) -> Contacts:
    p = directions(3)[:n]
    return contacts(p, -p)


# A box of half edges 1, held by the 3-2-1 principle and a seventh contact that pushes against all six.
SIX_POINTS = np.array(
    [[-0.7, -0.6, -1], [0.8, -0.5, -1], [0.1, 0.9, -1], [-0.6, -1, 0.2], [0.7, -1, -0.1], [-1, 0.1, 0.3]]
)
SIX_NORMALS = np.array([[0, 0, 1], [0, 0, 1], [0, 0, 1], [0, 1, 0], [0, 1, 0], [1, 0, 0]], float)


def test_a_ball_is_held_but_turns() -> None:
    left = freedom(on_ball(20))
    assert left.escape is None
    assert left.slides.shape[1] == 3 and np.abs(left.slides[:3]).max() < 1e-9
    assert not left.immobile and not left.slides_only_about(np.array([0, 0, 1.0]))


def test_a_ball_in_a_cup_leaves_upward() -> None:
    p = directions(4)
    below = p[p[:, 2] < -0.2]
    escape = freedom(contacts(below, -below)).escape
    assert escape is not None and escape[2] > 0.5


def test_six_contacts_locate_a_box_but_do_not_hold_it() -> None:
    left = freedom(contacts(SIX_POINTS, SIX_NORMALS))
    assert left.slides.shape[1] == 0, "3-2-1 leaves no slide"
    assert left.escape is not None


def test_a_seventh_contact_holds_it() -> None:
    """Mishra, Schwartz and Sharir 1987: seven frictionless contacts are needed in space, and can suffice."""
    six = contacts(SIX_POINTS, SIX_NORMALS)
    # A single push has no moment along its own line: weigh the six so that what it must balance has none either.
    first, rest = six.wrenches[:, 0], six.wrenches[:, 1:].sum(axis=1)
    roots = np.roots([first[:3] @ first[3:], first[:3] @ rest[3:] + rest[:3] @ first[3:], rest[:3] @ rest[3:]])
    weight = next(float(r.real) for r in roots if abs(r.imag) < 1e-12 and r.real > 0.01)
    against = -(weight * first + rest)
    force, moment = against[:3], against[3:]
    assert abs(force @ moment) < 1e-9
    unit = force / np.linalg.norm(force)
    seven = contacts(np.vstack([SIX_POINTS, np.cross(force, moment) / (force @ force)]), np.vstack([SIX_NORMALS, unit]))
    assert freedom(seven).immobile
    for gone in range(7):
        keep = np.arange(7) != gone
        assert not freedom(contacts(seven.points_mm[keep], seven.normals[keep])).immobile


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6])
def test_fewer_than_seven_never_hold_a_general_body(count: int) -> None:
    rng = np.random.default_rng(7)
    for _ in range(40):
        p = rng.normal(size=(count, 3))
        n = rng.normal(size=(count, 3))
        assert not freedom(contacts(p, n / np.linalg.norm(n, axis=1, keepdims=True))).immobile


def test_the_closure_agrees_with_the_convex_hull() -> None:
    """Against a general tool: the origin lies inside the convex hull of the wrenches (Qhull) where we say immobile."""
    from scipy.spatial import ConvexHull

    rng = np.random.default_rng(3)
    said = []
    for _ in range(60):
        p = rng.normal(size=(12, 3))
        n = rng.normal(size=(12, 3))
        c = contacts(p, n / np.linalg.norm(n, axis=1, keepdims=True))
        inside = bool((ConvexHull(c.wrenches.T).equations[:, -1] < -1e-9).all())
        assert freedom(c).immobile == inside
        said.append(inside)
    assert 5 < sum(said) < 55, "the draw holds both kinds"


def test_a_disc_between_bearing_and_claws_turns_only_about_its_axis() -> None:
    c = four_claws(half_width_deg=8.0)
    left = freedom(c)
    assert left.slides_only_about(np.array([0, 0, 1.0]))
    # Straight up, the four claws hold with 1 N each along their slant.
    pull = resisted(c, np.array([[0, 0, 1.0, 0, 0, 0]]))
    assert pull[0] == pytest.approx(4 * np.sqrt(0.5), rel=1e-6)


def test_one_claw_of_four_may_go_if_claws_have_width_but_not_two() -> None:
    """Claws that were points would let the stone tip out over the two that face each other."""
    wide, pointed = four_claws(half_width_deg=8.0), four_claws(half_width_deg=0.0)
    assert freedom(wide.without(0)).escape is None
    assert freedom(wide.without(0).without(1)).escape is not None
    escape = freedom(pointed.without(0)).escape
    assert escape is not None and escape[0] > 0.5, "it leaves toward the claw that is gone"


def four_claws(half_width_deg: float) -> Contacts:
    """A round stone of radius 1 on a bearing all round and under four claws of a width."""
    turn = 2 * np.pi * np.arange(16) / 16
    slant = np.sqrt(0.5)
    seat = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(16)])
    up = np.column_stack([-np.cos(turn) * slant, -np.sin(turn) * slant, np.full(16, slant)])
    claw = np.repeat(np.pi / 2 * np.arange(4), 2) + np.tile(np.radians([-half_width_deg, half_width_deg]), 4)
    tips = np.column_stack([np.cos(claw), np.sin(claw), np.zeros(8)])
    down = np.column_stack([-np.cos(claw) * slant, -np.sin(claw) * slant, np.full(8, -slant)])
    return contacts(np.vstack([seat, tips]), np.vstack([up, down]), [UNLIMITED] * 16 + [0, 0, 1, 1, 2, 2, 3, 3])


def test_a_pull_into_a_bearing_has_no_bound() -> None:
    c = contacts(SIX_POINTS, SIX_NORMALS)
    inside = SIX_POINTS[:3].mean(axis=0)
    pull = np.concatenate([[0, 0, -1.0], np.cross(inside, [0, 0, -1.0])])
    assert resisted(c, pull[None])[0] == pytest.approx(1e3)
    assert resisted(c, -pull[None])[0] == pytest.approx(0.0, abs=1e-9)
