"""Figures on a regular grid as a file: VTK ImageData in XML (``.vti``), which general viewers of volumes read.

Pure: the same grids give the same bytes. Cell data, 32-bit floats, little-endian, x fastest, each array in zlib-packed
blocks written in base 64 inside the XML (so that any XML reader reads the file). :func:`labels` and :func:`array` read
back what :func:`vti` wrote, and :func:`compact` is one of its figures as a page draws it.
"""

from __future__ import annotations

import base64
import json
import re
import struct
import zlib
from collections.abc import Sequence
from xml.sax.saxutils import quoteattr, unescape

import numpy as np

from ringwright.terms.body import Voxels
from ringwright.terms.mistake import bad

_BLOCK = 1 << 16


def vti(grids: Sequence[Voxels]) -> bytes:
    """One file of all figures, which must stand on one grid.

    Raises :class:`BadInput` where there is no figure, or where they do not stand on one grid.
    """
    if not grids:
        raise bad("voxels", "there is no figure to write", "an outcome with voxels")
    first = grids[0]
    for grid in grids:
        same = grid.values.shape == first.values.shape and grid.corner_mm == first.corner_mm and grid.h_mm == first.h_mm
        if not same:
            raise bad("voxels", f"'{grid.name}' stands on another grid than '{first.name}'", "one grid for a file")
    nx, ny, nz = first.values.shape
    extent = f'"0 {nx} 0 {ny} 0 {nz}"'
    origin = " ".join(repr(float(x)) for x in first.corner_mm)
    h = repr(float(first.h_mm))
    arrays = "".join(
        f'<DataArray type="Float32" Name={quoteattr(_label(grid))} format="binary">{_packed(grid)}</DataArray>\n'
        for grid in grids
    )
    text = (
        '<?xml version="1.0"?>\n'
        '<VTKFile type="ImageData" version="1.0" byte_order="LittleEndian" header_type="UInt32" '
        'compressor="vtkZLibDataCompressor">\n'
        f'<ImageData WholeExtent={extent} Origin="{origin}" Spacing="{h} {h} {h}">\n'
        f"<Piece Extent={extent}>\n<CellData Scalars={quoteattr(_label(first))}>\n{arrays}</CellData>\n"
        "</Piece>\n</ImageData>\n</VTKFile>\n"
    )
    return text.encode("utf-8")


def label(title: str, unit: str) -> str:
    """What a figure is called in the file."""
    return f"{title}, {unit}" if unit else title


def labels(data: bytes) -> tuple[str, ...]:
    """What the figures of such a file are called."""
    found = _NAMES.finditer(data.decode("utf-8", errors="replace"))
    return tuple(unescape(one["name"], _MARKS) for one in found)


def array(data: bytes, name: str) -> Voxels:
    """One figure of a file that :func:`vti` wrote, by its label.

    Raises :class:`BadInput` where the file is another or has no such figure.
    """
    text = data.decode("utf-8", errors="replace")
    names = labels(data)
    grid = _GRID.search(text)
    if grid is None or name not in names:
        raise bad("voxels", f"the file has no figure '{name}'", "one of its own figures")
    nx, ny, nz = (int(part) for part in grid["cells"].split()[1::2])
    x, y, z = (float(part) for part in grid["corner"].split())
    packed = _ARRAYS.findall(text)[names.index(name)]
    (blocks,) = struct.unpack("<I", base64.b64decode(packed[:8])[:4])
    size = 4 * (3 + blocks)
    coded = (size + 2) // 3 * 4
    sizes = struct.unpack(f"<{3 + blocks}I", base64.b64decode(packed[:coded]))[3:]
    body, at, raw = base64.b64decode(packed[coded:]), 0, bytearray()
    for part in sizes:
        raw += zlib.decompress(body[at : at + part])
        at += part
    values = np.frombuffer(bytes(raw), "<f4").reshape((nx, ny, nz), order="F")
    title, _, unit = name.rpartition(", ")
    return Voxels(name, title or name, unit if title else "", (x, y, z), float(grid["h"]), values)


def compact(grid: Voxels) -> bytes:
    """The figure for a page: the length of a JSON text, the text, and its cells as 16-bit counts, x fastest.

    Only the box in which it is known is given. A count of 0 is a cell without a figure; 1 to 65,535 stand for ``low``
    to ``high``, so that what is read differs from what is meant by at most 1/131,068 of the range.
    """
    known = np.isfinite(grid.values)
    if not known.any():
        raise bad("voxels", f"'{grid.title}' is known nowhere", "a figure that is known somewhere")
    spans = [np.flatnonzero(known.any(axis=tuple({0, 1, 2} - {axis}))) for axis in range(3)]
    box = tuple(slice(int(span[0]), int(span[-1]) + 1) for span in spans)
    values, known = grid.values[box].astype(np.float64), known[box]
    low, high = float(values[known].min()), float(values[known].max())
    counts = np.zeros(values.shape, "<u2")
    counts[known] = 1 + np.rint((values[known] - low) / ((high - low) or 1.0) * 65534)
    corner = [at + grid.h_mm * part.start for at, part in zip(grid.corner_mm, box, strict=True)]
    head = {"cells": values.shape, "corner_mm": corner, "h_mm": grid.h_mm, "low": low, "high": high}
    text = json.dumps(head).encode()
    text += b" " * (-len(text) % 4)
    return struct.pack("<I", len(text)) + text + counts.ravel(order="F").tobytes()


_MARKS = {"&quot;": '"', "&#10;": "\n", "&#13;": "\r", "&#9;": "\t"}
_NAMES = re.compile(r"""<DataArray [^>]*?Name=(?P<mark>["'])(?P<name>.*?)(?P=mark) format""")
_ARRAYS = re.compile(r"<DataArray [^>]*>([^<]*)</DataArray>")
_GRID = re.compile(r'<ImageData WholeExtent="(?P<cells>[^"]*)" Origin="(?P<corner>[^"]*)" Spacing="(?P<h>\S+) [^"]*">')


def _label(grid: Voxels) -> str:
    return label(grid.title, grid.unit)


def _packed(grid: Voxels) -> str:
    """The head (blocks, their size, the last one's size, the packed sizes) and the packed blocks, each in base 64."""
    raw = np.ascontiguousarray(grid.values.astype("<f4").ravel(order="F")).tobytes()
    blocks = [zlib.compress(raw[at : at + _BLOCK], 6) for at in range(0, len(raw), _BLOCK)]
    head = struct.pack(
        f"<{3 + len(blocks)}I", len(blocks), _BLOCK, len(raw) % _BLOCK, *(len(block) for block in blocks)
    )
    return (base64.b64encode(head) + base64.b64encode(b"".join(blocks))).decode("ascii")
