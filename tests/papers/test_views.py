"""Pictures of the ring: at the right scale, with the hole open and the metal in its place."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest
from numpy.typing import NDArray

from ringwright.papers.views import ABOVE, ASLANT, MARGIN_MM, SIDE, THROUGH, View, png, views
from ringwright.terms.body import Body, Mesh, Role


def grey_of(data: bytes) -> NDArray[np.uint8]:
    """A PNG of grey and cover read by the letter of its standard, laid on white."""
    grey, cover = np.moveaxis(channels_of(data).astype(float), 2, 0)
    return np.asarray(np.rint(grey * cover / 255 + 255 - cover), dtype=np.uint8)


def channels_of(data: bytes) -> NDArray[np.uint8]:
    """The two channels of a PNG, for the kinds of lines that ours has."""
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    at, parts = 8, []
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0] == zlib.crc32(kind + body)
        parts.append((kind, body))
        at += 12 + size
    assert [kind for kind, _ in parts] == [b"IHDR", b"IDAT", b"IEND"]
    columns, rows, bits, colour = struct.unpack(">IIBB", parts[0][1][:10])
    assert (bits, colour) == (8, 4), "grey and cover"
    lines = np.frombuffer(zlib.decompress(parts[1][1]), dtype=np.uint8).reshape(rows, 2 * columns + 1)
    assert (lines[:, 0] == 1).all(), "each pixel less the one to its left"
    return np.asarray(np.cumsum(lines[:, 1:].reshape(rows, columns, 2), axis=1, dtype=np.uint8))


def torus(outer: float, tube: float, count: int = 96) -> Mesh:
    """A ring about z."""
    u, v = np.meshgrid(np.arange(count), np.arange(count // 2), indexing="ij")
    around, tubular = u / count * 2 * np.pi, v / (count // 2) * 2 * np.pi
    radius = outer + tube * np.cos(tubular)
    points = np.stack([radius * np.cos(around), radius * np.sin(around), tube * np.sin(tubular)], axis=-1)
    half = count // 2
    a = u * half + v
    b, c = (u + 1) % count * half + v, (u + 1) % count * half + (v + 1) % half
    d = u * half + (v + 1) % half
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    return Mesh(points.reshape(-1, 3), faces)


RING = Body("ring", Role.METAL, torus(9.0, 1.0))


def at(view: View, x: float, y: float) -> int:
    """The grey at a place of the view, in its mm."""
    grey = grey_of(view.png)
    row = (view.bottom_mm + view.height_mm - y) / view.height_mm * grey.shape[0]
    return int(grey[int(row), int((x - view.left_mm) / view.width_mm * grey.shape[1])])


def test_a_png_is_read_back() -> None:
    picture = np.random.default_rng(3).integers(0, 256, size=(7, 5, 2)).astype(np.uint8)
    np.testing.assert_array_equal(channels_of(png(picture)), picture)


def test_the_ring_stands_at_its_size_from_every_side() -> None:
    seen = dict(zip(("through", "side", "above"), views([RING], (THROUGH, SIDE, ABOVE)), strict=True))
    for name, (wide, high) in {"through": (20.0, 20.0), "side": (2.0, 20.0), "above": (20.0, 2.0)}.items():
        view = seen[name]
        assert view.width_mm == pytest.approx(wide + 2 * MARGIN_MM, abs=0.06)
        assert view.height_mm == pytest.approx(high + 2 * MARGIN_MM, abs=0.06)
    through = seen["through"]
    assert at(through, 0.0, 0.0) == 255, "the hole is open"
    assert at(through, 7.8, 0.0) == 255
    assert at(through, 8.3, 0.0) < 250
    assert at(through, 0.0, 9.0) < 250, "the metal is there"
    edge = [at(through, 10.0 + off, 0.0) for off in (-0.04, 0.0, 0.04)]
    assert min(edge) < 80, "its outline is drawn dark"


def test_the_light_comes_from_the_upper_left() -> None:
    (view,) = views([RING], (THROUGH,))
    left, right = at(view, -6.6, 6.6), at(view, 6.6, -6.6)
    assert left > right + 20


def test_stones_stand_before_and_behind_the_metal() -> None:
    disc = np.array([[-3, -3, 0], [3, -3, 0], [3, 3, 0], [-3, 3, 0]], dtype=float)
    stone = Mesh(np.concatenate([disc, disc - [0, 0, 1]]), np.array([[0, 1, 2], [0, 2, 3], [6, 5, 4], [7, 6, 4]]))
    plate = Mesh(stone.vertices_mm * [0.5, 0.5, 1.0] + [0, 0, 2], stone.faces)
    (front,) = views([Body("p", Role.METAL, plate), Body("s", Role.STONE, stone)], (THROUGH,))
    assert at(front, 0.0, 0.0) < at(front, 2.5, 0.0), "metal before the stone is darker than the stone"
    (hidden,) = views(
        [Body("p", Role.METAL, plate.moved(np.eye(3), np.array([0, 0, -9]))), Body("s", Role.STONE, stone)], (THROUGH,)
    )
    assert at(hidden, 0.0, 0.0) == at(hidden, 2.5, 0.0), "metal behind the stone is not seen"


def test_the_same_ring_gives_the_same_bytes_and_nothing_gives_none() -> None:
    assert views([RING], (ASLANT,)) == views([Body("ring", Role.METAL, torus(9.0, 1.0))], (ASLANT,))
    assert views([Body("tree", Role.TREE, RING.mesh)], (ASLANT,)) == ()


def test_a_huge_body_does_not_make_a_huge_picture() -> None:
    (view,) = views([Body("ring", Role.METAL, torus(400.0, 10.0))], (THROUGH,))
    assert max(grey_of(view.png).shape) <= 1_200
