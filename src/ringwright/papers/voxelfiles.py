"""Figures on a regular grid as a file: VTK ImageData in XML (``.vti``), which general viewers of volumes read.

Pure: the same grids give the same bytes. Cell data, 32-bit floats, little-endian, x fastest, each array in zlib-packed
blocks written in base 64 inside the XML (so that any XML reader reads the file).
"""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence
from xml.sax.saxutils import quoteattr

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


def _label(grid: Voxels) -> str:
    return f"{grid.title}, {grid.unit}" if grid.unit else grid.title


def _packed(grid: Voxels) -> str:
    """The head (blocks, their size, the last one's size, the packed sizes) and the packed blocks, each in base 64."""
    raw = np.ascontiguousarray(grid.values.astype("<f4").ravel(order="F")).tobytes()
    blocks = [zlib.compress(raw[at : at + _BLOCK], 6) for at in range(0, len(raw), _BLOCK)]
    head = struct.pack(
        f"<{3 + len(blocks)}I", len(blocks), _BLOCK, len(raw) % _BLOCK, *(len(block) for block in blocks)
    )
    return (base64.b64encode(head) + base64.b64encode(b"".join(blocks))).decode("ascii")
