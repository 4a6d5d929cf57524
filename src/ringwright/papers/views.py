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

_OVER = 2
_CREASES_DEG = {Role.METAL: 32.0, Role.STONE: 1.0}
_MARGIN_MM = 0.3
_MOST_PIXELS = 1_200
_LIGHTS = (((-0.42, 0.58, 0.70), 0.78), ((0.75, 0.15, 0.40), 0.16), ((0.0, -1.0, 0.15), 0.10))
_TONES = {Role.METAL: (0.42, 1.0), Role.STONE: (0.78, 1.0)}
_BENDS = {Role.METAL: 0.88, Role.STONE: 0.9985}
_LEAP_MM = 0.12
_BEND, _END = 1, 2

Grey = NDArray[np.float64]


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


def views(bodies: Sequence[Body], directions: Sequence[Direction]) -> tuple[View, ...]:
    """The bodies seen from each direction; only metal and stones are drawn. No views where there is neither."""
    from ringwright.science.raster import corner_normals

    shown = [body for body in bodies if body.role in _TONES and len(body.mesh.faces)]
    normals = [
        corner_normals(np.array(body.mesh.vertices_mm), np.array(body.mesh.faces), _CREASES_DEG[body.role])
        for body in shown
    ]
    return tuple(_view(shown, normals, direction) for direction in directions) if shown else ()


def _view(bodies: Sequence[Body], normals: Sequence[Floats], direction: Direction) -> View:
    matrix = direction.matrix
    placed = [body.mesh.vertices_mm @ matrix.T for body in bodies]
    low = np.min([points.min(axis=0) for points in placed], axis=0)[:2] - _MARGIN_MM
    high = np.max([points.max(axis=0) for points in placed], axis=0)[:2] + _MARGIN_MM
    per_mm = min(float(PIXELS_PER_MM), _MOST_PIXELS / float((high - low).max()))
    columns, rows = (int(np.ceil(extent * per_mm)) for extent in high - low)
    fine = per_mm * _OVER
    shape = (rows * _OVER, columns * _OVER)
    depth, normal = np.full(shape, -np.inf), np.zeros((*shape, 3))
    labels = np.full(shape, -1, dtype=np.int32)
    from ringwright.science.raster import paint

    for number, (body, points) in enumerate(zip(bodies, placed, strict=True)):
        across = (points[:, 0] - low[0]) * fine
        down = shape[0] - (points[:, 1] - low[1]) * fine
        corners = np.column_stack([across, down, points[:, 2]])[body.mesh.faces]
        paint(corners, normals[number] @ matrix.T, number, depth, normal, labels)
    grey = _drawn([body.role for body in bodies], depth, normal, labels, fine)
    small = grey.reshape(rows, _OVER, columns, _OVER).mean(axis=(1, 3))
    return View(
        name=direction.name,
        png=png(np.asarray(np.rint(small * 255), dtype=np.uint8)),
        left_mm=float(low[0]),
        bottom_mm=float(low[1]),
        width_mm=columns / per_mm,
        height_mm=rows / per_mm,
    )


def _drawn(roles: Sequence[Role], depth: Floats, normal: Floats, labels: NDArray[np.int32], per_mm: float) -> Grey:
    """The shaded picture with its edges: 0 black to 1 white."""
    from ringwright.science.raster import borders

    grey = np.ones(depth.shape)
    for number, role in enumerate(roles):
        dark, bright = _TONES[role]
        mine = np.flatnonzero(labels.ravel() == number)
        facing = normal.reshape(-1, 3)[mine]
        light = np.zeros(len(mine))
        for towards, share in _LIGHTS:
            source = np.array(towards) / np.linalg.norm(towards)
            light += share * np.clip(facing @ source, 0.0, None)
        grey.ravel()[mine] = dark + (bright - dark) * np.clip(light, 0.0, 1.0)
    bends = np.array([_BENDS[role] for role in roles])
    found = borders(depth, normal, labels, 1.0 / per_mm, _LEAP_MM, bends)
    grey[found == _BEND] *= 0.62
    grey[found == _END] = 0.06
    return grey


def png(grey: NDArray[np.uint8]) -> bytes:
    """A grey picture (rows, columns) as PNG."""
    rows, columns = grey.shape
    lines = np.zeros((rows, columns + 1), dtype=np.uint8)
    lines[:, 0] = 1
    lines[:, 1] = grey[:, 0]
    lines[:, 2:] = grey[:, 1:] - grey[:, :-1]
    head = struct.pack(">IIBBBBB", columns, rows, 8, 0, 0, 0, 0)
    parts = [(b"IHDR", head), (b"IDAT", zlib.compress(lines.tobytes(), 6)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in parts
    )
