"""STL, binary and text. It knows neither units nor bodies: one heap of triangles."""

from __future__ import annotations

import struct
from collections.abc import Iterator

import numpy as np

from ringwright.science import mending
from ringwright.steps.piece._raw import MAX_TRIANGLES, Raw, RawBody, cut_short, too_many
from ringwright.terms.body import Floats
from ringwright.terms.mistake import BadInput, bad

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
_CHUNK = 400_000
_TEXT_CHUNK = 16 * 2**20


def read_stl(data: bytes, where: str) -> Raw:
    """The triangles of an STL, corners at the same place made one vertex.

    Raises :class:`BadInput` for a file that is neither form, is cut short, or holds what is no number.
    """
    count = struct.unpack_from("<I", data, 80)[0] if len(data) >= 84 else 0
    if count and len(data) == 84 + 50 * count:
        if count > MAX_TRIANGLES:
            raise too_many(where, count)
        return _joined("STL, binary", _binary(data, count, where))
    if data[:512].lstrip()[:5].lower() == b"solid" and b"facet" in data[:4096].lower():
        return _joined("STL, text", _text(data, where))
    if _is_text(data):
        begin = data[:40].decode("ascii", "replace").split("\n")[0].strip()
        raise bad(where, f"it is a text that is no STL (it begins with '{begin}')", "export the model as STL or 3MF")
    if len(data) < 84:
        raise cut_short(where, f"it has {len(data)} bytes, an STL has 84 at least")
    have = (len(data) - 84) // 50
    if count == 0 or have > count:
        raise bad(
            where,
            f"its head says {count:,} triangles and its length {have:,}",
            "it is no whole binary STL: export the model again",
        )
    raise cut_short(where, f"its head says {count:,} triangles and {have:,} are there")


def _binary(data: bytes, count: int, where: str) -> Iterator[Floats]:
    records = np.frombuffer(data, dtype=_RECORD, count=count, offset=84)
    for first in range(0, count, _CHUNK):
        corners = records["corners"][first : first + _CHUNK].astype(np.float64)
        finite = np.isfinite(corners).all(axis=(1, 2))
        if not finite.all():
            number = first + int(np.flatnonzero(~finite)[0]) + 1
            raise bad(where, f"triangle {number:,} has a corner that is not a number", "export the model again")
        yield corners


def _text(data: bytes, where: str) -> Iterator[Floats]:
    """The triangles of a text STL, some megabytes at a time, cut at the end of a facet."""
    lines = data.count(b"\n") + 1
    if b"endsolid" not in data.rstrip()[-200:].lower():
        raise cut_short(where, f"it ends in line {lines:,} without 'endsolid'")
    start, found = 0, 0
    while start < len(data):
        stop = start + _TEXT_CHUNK
        if stop < len(data):
            stop = _next_facet(data, stop)
        corners = _facets(data, start, min(stop, len(data)), where)
        found += len(corners)
        if found > MAX_TRIANGLES:
            raise too_many(where, found)
        yield corners
        start = stop


def _next_facet(data: bytes, start: int) -> int:
    """Where the next facet ends at or after ``start``, or the end of the data."""
    near = data[start : start + 65536].lower().find(b"endfacet")
    return start + near if near >= 0 else len(data)


def _facets(data: bytes, start: int, stop: int, where: str) -> Floats:
    text = data[start:stop].lower()
    pieces = text.split(b"vertex")
    numbers = []
    offset = start + len(pieces[0])
    for piece in pieces[1:]:
        words = piece.split(None, 3)[:3]
        try:
            x, y, z = map(float, words)
        except ValueError:
            raise _not_a_number(data, offset, words, where) from None
        if x - x + y - y + z - z != 0.0:
            raise _not_a_number(data, offset, words, where)
        numbers.append((x, y, z))
        offset += len(piece) + len(b"vertex")
    loops = text.count(b"outer loop")
    if len(numbers) != 3 * loops:
        line = data.count(b"\n", 0, stop) + 1
        raise cut_short(where, f"a facet near line {line:,} has not three corners")
    return np.array(numbers, dtype=np.float64).reshape(-1, 3, 3)


def _not_a_number(data: bytes, offset: int, words: list[bytes], where: str) -> BadInput:
    line = data.count(b"\n", 0, offset) + 1
    shown = b" ".join(words).decode("ascii", "replace")[:40]
    return bad(where, f"line {line:,}: the corner '{shown}' is not three numbers", "export the model again")


def _joined(form: str, chunks: Iterator[Floats]) -> Raw:
    """All chunks as one body; each is welded by itself first, so that memory stays near that of the result."""
    vertices, faces, shift = [], [], 0
    for corners in chunks:
        points, triangles = mending.welded(
            corners.reshape(-1, 3), np.arange(3 * len(corners), dtype=np.int64).reshape(-1, 3)
        )
        vertices.append(points)
        faces.append(triangles + shift)
        shift += len(points)
    if not faces:
        return Raw(form, ())
    if len(faces) == 1:
        return Raw(form, (RawBody("", "", vertices[0], faces[0]),))
    return Raw(form, (RawBody("", "", *mending.welded(np.concatenate(vertices), np.concatenate(faces))),))


def _is_text(data: bytes) -> bool:
    head = data[:1024]
    return bool(head) and all(byte in b"\t\n\r\f" or 32 <= byte < 127 for byte in head)
