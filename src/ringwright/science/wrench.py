"""Which rigid motions a body in unilateral contact still has, and what pull its contacts resist.

A contact can push on the body along its normal and cannot pull. Its wrench is the push and its moment.
The body is immobile to first order if the wrenches positively span the space of all wrenches (F. Reuleaux,
"The Kinematics of Machinery", 1876; B. Mishra, J. T. Schwartz, M. Sharir, "On the existence and synthesis
of multifinger positive grips", Algorithmica 2, 1987: in space at least seven frictionless contacts are
needed). Both questions are linear programmes, solved by HiGHS.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import ComputingFault

UNLIMITED = -1
_SLACK = 1e-7


@dataclass(frozen=True, eq=False)
class Contacts:
    """Contacts on one body.

    ``points_mm`` (n, 3); ``normals`` (n, 3) unit, the way each pushes the body; ``group`` (n,) the holder that
    each belongs to: the pushes of one holder add up to at most its limit; ``UNLIMITED`` for a firm bearing.
    ``about_mm`` is the point for moments, ``reach_mm`` the length that makes moments comparable to forces.
    """

    points_mm: Floats
    normals: Floats
    group: Ints
    about_mm: Floats
    reach_mm: float

    def without(self, group: int) -> Contacts:
        """The same contacts with one holder gone."""
        keep = self.group != group
        return Contacts(self.points_mm[keep], self.normals[keep], self.group[keep], self.about_mm, self.reach_mm)

    @property
    def wrenches(self) -> Floats:
        """(6, n) unit push and its moment over ``reach_mm``."""
        arm = (self.points_mm - self.about_mm) / self.reach_mm
        return np.concatenate([self.normals, np.cross(arm, self.normals)], axis=1).T


@dataclass(frozen=True, eq=False)
class Freedom:
    """What motion is left: ``escape`` (6,) a motion that leaves contacts, or None; ``slides`` (6, k) motions along all.

    A motion is a shift and a turn (times ``reach_mm``) about ``about_mm``. ``slides`` is an orthonormal basis of
    the motions that keep every contact touching, as a ball has when it turns.
    """

    escape: Floats | None
    slides: Floats

    @property
    def immobile(self) -> bool:
        """True if neither kind of motion is left."""
        return self.escape is None and self.slides.shape[1] == 0

    def slides_only_about(self, axis: Floats) -> bool:
        """True if the body cannot escape and all that is left is a turn about ``axis`` through the reference point."""
        if self.escape is not None or self.slides.shape[1] > 1:
            return False
        if self.slides.shape[1] == 0:
            return True
        turn = np.concatenate([np.zeros(3), axis / np.linalg.norm(axis)])
        return bool(abs(float(self.slides[:, 0] @ turn)) > 1.0 - 1e-6)


def freedom(contacts: Contacts) -> Freedom:
    """The motions to first order that the contacts leave (frictionless: what friction holds is not counted on).

    Maximises how far contacts can be left at once over all small motions that enter none; zero means that
    every motion left keeps all contacts touching.
    """
    from scipy.linalg import null_space

    w = contacts.wrenches
    n = w.shape[1]
    if n == 0:
        return Freedom(np.array([0.0, 0, 1, 0, 0, 0]), np.eye(6))
    slides = null_space(w.T, rcond=1e-6)
    # Unknowns: the motion (6) and how far each contact is left (n): leave_i <= w_i · motion.
    cost = np.concatenate([np.zeros(6), -np.ones(n)])
    above = np.concatenate([-w.T, np.eye(n)], axis=1)
    # A motion that slides along every contact leaves none: it is kept out, so that the escape is clean.
    equal = np.concatenate([slides.T, np.zeros((slides.shape[1], n))], axis=1) if slides.shape[1] else None
    answer = _highs(
        cost, A_ub=above, b_ub=np.zeros(n), A_eq=equal, b_eq=None if equal is None else np.zeros(len(equal)),
        bounds=[(-1.0, 1.0)] * 6 + [(0.0, 1.0)] * n,
    )  # fmt: skip
    left = answer.x[6:]
    if -answer.fun <= _SLACK * n or left.max() <= _SLACK:
        return Freedom(None, slides)
    motion = answer.x[:6]
    return Freedom(motion / np.linalg.norm(motion), slides)


def resisted(contacts: Contacts, pulls: Floats, limit: float = 1.0, most: float = 1e3) -> Floats:
    """(m,) the largest multiple of each (m, 6) unit pull (force, moment over reach) that the contacts can balance.

    The pushes of each holder add up to at most ``limit``; the answer is capped at ``most`` (a pull straight
    into a firm bearing has no bound). All pulls go into one sparse programme.
    """
    from scipy.sparse import csr_matrix, hstack, identity, kron

    w = contacts.wrenches
    n, m = w.shape[1], len(pulls)
    holders = np.unique(contacts.group[contacts.group != UNLIMITED])
    each = identity(m)
    wanted = csr_matrix((np.ravel(pulls), (np.arange(6 * m), np.repeat(np.arange(m), 6))), shape=(6 * m, m))
    a_eq = hstack([kron(each, csr_matrix(w)), wanted], format="csr")
    a_ub = None
    if len(holders):
        together = csr_matrix((contacts.group[None, :] == holders[:, None]).astype(float))
        a_ub = hstack([kron(each, together), csr_matrix((m * len(holders), m))], format="csr")
    answer = _highs(
        np.concatenate([np.zeros(n * m), -np.ones(m)]), A_ub=a_ub,
        b_ub=None if a_ub is None else np.full(m * len(holders), limit), A_eq=a_eq, b_eq=np.zeros(6 * m),
        bounds=np.concatenate([np.tile([0.0, np.inf], (n * m, 1)), np.tile([0.0, most], (m, 1))]),
    )  # fmt: skip
    found: Floats = answer.x[n * m :]
    return found


def _highs(cost: Floats, **problem: Any) -> Any:
    """Minimise a linear cost by HiGHS; :class:`ComputingFault` if it finds no optimum."""
    from scipy import optimize

    linprog: Any = optimize.linprog
    answer = linprog(cost, method="highs", **problem)
    if answer.status != 0:
        raise ComputingFault(f"a linear programme over contacts failed: {answer.message}")
    return answer


def directions(rings: int = 4) -> Floats:
    """(m, 3) unit directions spread over the sphere: both poles and ``2 rings - 1`` circles between them."""
    found = [np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]])]
    for k in range(1, 2 * rings):
        tilt = np.pi * k / (2 * rings)
        count = max(3, round(4 * rings * np.sin(tilt)))
        turn = 2 * np.pi * (np.arange(count) + 0.5 * (k % 2)) / count
        found.append(
            np.column_stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.full(count, np.cos(tilt))])
        )
    return np.concatenate(found)
