"""Geometry that travels between the steps.

**The ring's own frame.** The origin is the centre of the finger hole, z runs along the finger, y points
to the head (the heaviest side, where the main stone sits), x completes a right-handed frame. Seen along
the finger the ring is a circle in the xy plane with its head at the top and the bottom of the shank at
(0, -r, 0). Every point in a remark and every mesh after ``piece`` is in this frame, in mm.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Role(StrEnum):
    """What a body is made of or for."""

    METAL = "metal"
    STONE = "stone"
    PATTERN = "pattern"
    TREE = "tree"
    MOULD = "mould"


@dataclass(frozen=True, eq=False)
class Mesh:
    """A triangle mesh: ``vertices_mm`` (n, 3) float64 and ``faces`` (m, 3) int64, outward by the right-hand rule.

    The arrays are made read-only. Two meshes are equal when their contents are.
    """

    vertices_mm: Floats
    faces: Ints

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices_mm, dtype=np.float64).reshape(-1, 3)
        faces = np.ascontiguousarray(self.faces, dtype=np.int64).reshape(-1, 3)
        if vertices is self.vertices_mm or vertices.base is not None:
            vertices = vertices.copy()
        if faces is self.faces or faces.base is not None:
            faces = faces.copy()
        vertices.flags.writeable = False
        faces.flags.writeable = False
        object.__setattr__(self, "vertices_mm", vertices)
        object.__setattr__(self, "faces", faces)

    @cached_property
    def digest(self) -> str:
        """A content hash: the same arrays give the same text."""
        h = hashlib.blake2b(digest_size=16)
        h.update(str(self.vertices_mm.shape).encode() + self.vertices_mm.tobytes())
        h.update(str(self.faces.shape).encode() + self.faces.tobytes())
        return h.hexdigest()

    @property
    def corners_mm(self) -> Floats:
        """The (m, 3, 3) corner points of each triangle."""
        return np.take(self.vertices_mm, self.faces, axis=0)

    @property
    def middles_mm(self) -> Floats:
        """The (m, 3) middle of each triangle."""
        corners = self.corners_mm
        return (corners[:, 0] + corners[:, 1] + corners[:, 2]) / 3.0

    def moved(self, rotation: Floats, shift_mm: Floats) -> Mesh:
        """The mesh with ``v -> rotation @ v + shift``; ``rotation`` (3, 3) may also scale, but not mirror."""
        return Mesh(self.vertices_mm @ np.asarray(rotation).T + np.asarray(shift_mm), self.faces)

    def scaled(self, factor: float) -> Mesh:
        """The mesh enlarged about the origin."""
        return Mesh(self.vertices_mm * factor, self.faces)

    def __reduce__(self) -> tuple[type[Mesh], tuple[Floats, Ints]]:
        """Read back through the constructor, so that a kept mesh is read-only too."""
        return Mesh, (self.vertices_mm, self.faces)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Mesh) and self.digest == other.digest

    def __hash__(self) -> int:
        return hash(self.digest)


@dataclass(frozen=True)
class Body:
    """A named solid with its role. ``name`` is the stone's name, or "ring", "pattern", "sprue" …"""

    name: str
    role: Role
    mesh: Mesh


@dataclass(frozen=True, eq=False)
class Field:
    """A figure at every vertex of a body: wall thickness, stress, time to freeze …

    ``values`` (n,) float64 with NaN where there is none; ``low_is_bad`` tells the colour scale's direction.
    """

    name: str
    title: str
    unit: str
    body: str
    values: Floats
    low_is_bad: bool = True
    limits: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class Voxels:
    """A figure in every cell of a regular grid: ``values`` (nx, ny, nz) float32, NaN where there is none.

    ``corner_mm`` is the low corner of the grid, ``h_mm`` the edge of a cell.
    """

    name: str
    title: str
    unit: str
    corner_mm: tuple[float, float, float]
    h_mm: float
    values: NDArray[np.float32]


@dataclass(frozen=True)
class Residual:
    """What a computation left over: name, value, and the bound that it kept."""

    name: str
    value: float
    bound: float
    extra: dict[str, Any] = field(default_factory=dict)
