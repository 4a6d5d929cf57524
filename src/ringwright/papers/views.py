"""The ring as a drawing: seen through the finger, from the side, from above and aslant, shaded, with its edges drawn.

Pure: the same solids give the same bytes. Each view is a grey picture on white with its frame in mm, so that a page
can draw the main dimensions over it at the right scale.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.body import Body, Floats, Role

PIXELS_PER_MM = 20
"""Pixels of the finished picture for a millimetre of the ring: at twice the ring's size 254 to the inch."""

MARGIN_MM = 0.3
"""What a view leaves free around the ring."""

_OVER = 2
_FINE = 120_000
"""Metal of more triangles than this is drawn by its faces alone: they are smaller than what a pixel shows."""

_CREASE_DEG = 32.0
_MOST_PIXELS = 1_200
_LIGHTS = np.array(
    [[-0.419, 0.579, 0.699, 0.78], [0.869, 0.174, 0.463, 0.16], [0.0, -0.989, 0.148, 0.10]], dtype=np.float64
)
"""Directions to the lights on the page (right, up, toward the eye) and their shares: one from the upper left, a weaker
one from the right, a glimmer from below."""

_TONES = {Role.METAL: (0.42, 1.0), Role.STONE: (0.78, 1.0)}
_BENDS = {Role.METAL: 0.88, Role.STONE: 0.9985}
_LINES = np.array([1.0, 0.62, 0.06])
_LEAP_MM = 0.12


@dataclass(frozen=True)
class Direction:
    """Where the eye stands: ``right`` and ``up`` on the page, and ``toward`` the eye, in the ring's frame."""

    name: str
    right: tuple[float, float, float]
    up: tuple[float, float, float]
    toward: tuple[float, float, float]

    @property
    def matrix(self) -> Floats:
        """Ring's frame to page: right, up, toward the eye."""
        return np.array([self.right, self.up, self.toward], dtype=np.float64)


def _aslant() -> Direction:
    toward = np.array([0.50, 0.62, 0.60])
    toward /= np.linalg.norm(toward)
    right = np.cross([0.0, 1.0, 0.0], toward)
    right /= np.linalg.norm(right)
    up = np.cross(toward, right)
    one, two, three = ((float(v[0]), float(v[1]), float(v[2])) for v in (right, up, toward))
    return Direction("aslant", one, two, three)


THROUGH = Direction("through the finger", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
SIDE = Direction("from the side", (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
ABOVE = Direction("from above", (1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
ASLANT = _aslant()


@dataclass(frozen=True)
class View:
    """A picture of the ring: PNG bytes, and the frame that they show, in mm on the page (x right, y up)."""

    name: str
    png: bytes
    left_mm: float
    bottom_mm: float
    width_mm: float
    height_mm: float


def views(bodies: Sequence[Body], directions: Sequence[Direction], finest: float = PIXELS_PER_MM) -> tuple[View, ...]:
    """The bodies seen from each direction, on no ground, with ``finest`` pixels for a mm.

    Only metal and stones are drawn; no views where there is neither.
    """
    from ringwright.science.raster import corner_normals, face_normals

    shown = [body for body in bodies if body.role in _TONES and len(body.mesh.faces)]
    normals = []
    for body in shown:
        points, faces = np.array(body.mesh.vertices_mm), np.array(body.mesh.faces)
        smooth = body.role is Role.METAL and len(faces) <= _FINE
        normals.append(corner_normals(points, faces, _CREASE_DEG) if smooth else face_normals(points, faces))
    return tuple(_view(shown, normals, direction, finest) for direction in directions) if shown else ()


def _view(bodies: Sequence[Body], normals: Sequence[Floats], direction: Direction, finest: float) -> View:
    from ringwright.science.raster import borders, develop, paint

    matrix = direction.matrix
    placed = [body.mesh.vertices_mm @ matrix.T for body in bodies]
    low = np.min([points.min(axis=0) for points in placed], axis=0)[:2] - MARGIN_MM
    high = np.max([points.max(axis=0) for points in placed], axis=0)[:2] + MARGIN_MM
    per_mm = min(float(finest), _MOST_PIXELS / float((high - low).max()))
    columns, rows = (int(np.ceil(extent * per_mm)) for extent in high - low)
    fine = per_mm * _OVER
    shape = (rows * _OVER, columns * _OVER)
    depth, normal = np.full(shape, -np.inf), np.zeros((*shape, 3))
    labels = np.full(shape, -1, dtype=np.int32)
    for number, (body, points) in enumerate(zip(bodies, placed, strict=True)):
        across = (points[:, 0] - low[0]) * fine
        down = shape[0] - (points[:, 1] - low[1]) * fine
        corners = np.column_stack([across, down, points[:, 2]])[body.mesh.faces]
        paint(corners, normals[number], number, depth, normal, labels)
    normal = normal @ matrix.T
    roles = [body.role for body in bodies]
    ends = borders(depth, normal, labels, 1.0 / fine, _LEAP_MM, np.array([_BENDS[role] for role in roles]))
    picture = develop(normal, labels, ends, _LIGHTS, np.array([_TONES[role] for role in roles]), _LINES, _OVER)
    return View(
        name=direction.name,
        png=png(picture),
        left_mm=float(low[0]),
        bottom_mm=float(low[1]),
        width_mm=columns / per_mm,
        height_mm=rows / per_mm,
    )


def png(picture: NDArray[np.uint8]) -> bytes:
    """A picture (rows, columns, 2) of grey and cover as PNG."""
    rows, columns, _ = picture.shape
    lines = np.zeros((rows, 1 + 2 * columns), dtype=np.uint8)
    lines[:, 0] = 1
    lines[:, 1:3] = picture[:, 0]
    lines[:, 3:] = (picture[:, 1:] - picture[:, :-1]).reshape(rows, -1)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 4, 0, 0, 0)
    parts = [(b"IHDR", head), (b"IDAT", zlib.compress(lines.tobytes(), 6)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in parts
    )
