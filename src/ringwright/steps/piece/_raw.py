"""What a file holds before anything is judged: bodies of triangles in the file's own unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.terms.body import Floats, Ints
from ringwright.terms.mistake import BadInput, bad

UNITS_MM: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "micron": 0.001, "ft": 304.8}
"""Millimetres in each unit."""

MAX_BYTES = 512 * 2**20
"""Largest file: twice the binary STL of five million triangles. Reading takes a few times the file's size in memory."""
MAX_TRIANGLES = 6_000_000
"""Most triangles: five million take about 20 s and 2.5 GB to read and thin out; a drawn ring has 10,000 to 400,000."""
EXTENTS_MM = (0.1, 10_000.0)
"""Smallest and largest extent of a model that is worked with: beyond lies no ring in any unit, only a slip."""
MAX_UNPACKED = 2 * MAX_BYTES
"""Most bytes that a packed file may unfold to."""
MAX_PLACED = 10_000
"""Most bodies that a file may place: copies of copies multiply quickly."""


@dataclass(frozen=True, eq=False)
class RawBody:
    """One body as the file has it."""

    name: str
    material: str
    vertices: Floats
    faces: Ints


@dataclass(frozen=True, eq=False)
class Raw:
    """The bodies of a file, in ``unit`` if the file itself states one; None where its format has none.

    ``by_standard`` tells that the format fixes the unit, so that a program may have written another in spite of it.
    """

    format: str
    bodies: tuple[RawBody, ...]
    unit: str | None = None
    by_standard: bool = False


def checked(raw: Raw, where: str) -> Raw:
    """The same, if it holds triangles, every corner is a number, and there are not too many."""
    count = sum(len(body.faces) for body in raw.bodies)
    if count == 0:
        raise bad(where, "it holds no triangles", "export the model as a closed mesh")
    if count > MAX_TRIANGLES:
        raise too_many(where, count)
    for body in raw.bodies:
        at = f"{where}, body '{body.name}'" if body.name and len(raw.bodies) > 1 else where
        if len(body.faces) and (body.faces.min() < 0 or body.faces.max() >= len(body.vertices)):
            face = int(np.flatnonzero(((body.faces < 0) | (body.faces >= len(body.vertices))).any(axis=1))[0])
            raise bad(at, f"triangle {face + 1:,} names a vertex that is not there", "export the model again")
        finite = np.isfinite(body.vertices).all(axis=1)
        if not finite.all():
            corner = int(np.flatnonzero(~finite)[0])
            users = np.flatnonzero((body.faces == corner).any(axis=1))
            place = f"triangle {int(users[0]) + 1:,}" if len(users) else f"vertex {corner + 1:,}"
            raise bad(at, f"{place} has a corner that is not a number", "export the model again")
    return raw


def too_many(where: str, count: int) -> BadInput:
    """The refusal of a mesh that is too large."""
    return bad(
        where,
        f"it has {count:,} triangles",
        f"at most {MAX_TRIANGLES:,} are read: export with a coarser tolerance, 0.005 mm is fine enough for a ring",
    )


def cut_short(where: str, what: str) -> BadInput:
    """The refusal of a file that ends too early."""
    return bad(where, what, "the file was cut short: export or copy it again")
