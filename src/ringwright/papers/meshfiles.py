"""Solids as files that other programs read: binary STL, 3MF and GLB. Pure: the same solids give the same bytes.

STL and 3MF are in mm, in the coordinates of the body; 3MF keeps the bodies' names. GLB is in metres, as its
standard says, and can carry one figure of the bodies as colours.
"""

from __future__ import annotations

import io
import json
import struct
import zipfile
from collections.abc import Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from ringwright.terms.body import Body, Field, Floats, Mesh, Role

_HEADER = b"Ringwright, binary STL, mm"
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"

SCALE = (
    (0, 34, 78), (18, 53, 112), (59, 73, 108), (87, 93, 109), (112, 113, 115),
    (138, 134, 120), (165, 156, 116), (195, 179, 105), (225, 204, 85), (254, 232, 56),
)  # fmt: skip
"""The colour scale, sRGB: dark blue for what is well, light yellow for what is not. Lightness rises evenly and the
hues differ for every kind of colour vision (Nuñez, Anderton and Renslow, PLOS ONE 13(7), 2018)."""

UNKNOWN = (245, 245, 245)
"""The colour of a place that has no figure."""

_PLAIN_COLOURS: dict[Role, tuple[float, float, float, float]] = {
    Role.METAL: (0.80, 0.62, 0.28, 1.0),
    Role.STONE: (0.55, 0.70, 0.90, 0.6),
    Role.PATTERN: (0.30, 0.45, 0.60, 1.0),
    Role.TREE: (0.60, 0.55, 0.45, 1.0),
    Role.MOULD: (0.85, 0.83, 0.80, 0.4),
}


def stl(mesh: Mesh) -> bytes:
    """The mesh as binary STL, in mm, with the normals of its triangles."""
    corners = mesh.corners_mm
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    records = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    records["normal"] = normals
    records["corners"] = corners
    return _HEADER.ljust(80) + struct.pack("<I", len(corners)) + records.tobytes()


def threemf(bodies: Sequence[Body], title: str = "") -> bytes:
    """The bodies as one 3MF package, in mm, each an object with its name."""
    objects, items = [], []
    for number, body in enumerate(bodies, start=1):
        objects.append(_object(number, body))
        items.append(f'<item objectid="{number}"/>')
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<model unit="millimeter" xml:lang="en" xmlns="{_CORE}">'
        f'<metadata name="Title">{escape(title)}</metadata><metadata name="Application">Ringwright</metadata>'
        f"<resources>{''.join(objects)}</resources><build>{''.join(items)}</build></model>\n"
    )
    kinds = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>\n'
    )
    relations = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="model" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>\n'
    )
    return _zipped({"[Content_Types].xml": kinds, "_rels/.rels": relations, "3D/3dmodel.model": model})


def _object(number: int, body: Body) -> str:
    """One mesh object; coordinates to seven significant digits, which is finer than a micron."""
    vertices, faces = body.mesh.vertices_mm, body.mesh.faces
    points = '<vertex x="%.7g" y="%.7g" z="%.7g"/>' * len(vertices) % tuple((vertices + 0.0).ravel().tolist())
    triangles = '<triangle v1="%d" v2="%d" v3="%d"/>' * len(faces) % tuple(faces.ravel().tolist())
    return (
        f'<object id="{number}" type="model" name={quoteattr(body.name)}><mesh>'
        f"<vertices>{points}</vertices><triangles>{triangles}</triangles></mesh></object>"
    )


def _zipped(files: dict[str, str]) -> bytes:
    """A zip of texts with fixed times and rights."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as package:
        for name, text in files.items():
            entry = zipfile.ZipInfo(name, _FIRST_DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o644 << 16
            package.writestr(entry, text.encode(), compresslevel=5)
    return out.getvalue()


def glb(bodies: Sequence[Body], field: Field | None = None) -> bytes:
    """The bodies as one binary glTF 2.0 file, in metres, y up; with ``field``, its body in the colours of its figure.

    The figure itself goes along as the vertex attribute ``_FIGURE``, so that a viewer can colour anew.
    """
    pack = _Pack()
    for body in bodies:
        attributes = {"POSITION": pack.add((body.mesh.vertices_mm / 1000).astype("<f4"), target=34962, spread=True)}
        shown = field if field is not None and field.body == body.name else None
        if shown is not None:
            attributes["COLOR_0"] = pack.add(_linear(colours(shown)).astype("<f4"), target=34962)
            attributes["_FIGURE"] = pack.add(shown.values.astype("<f4").reshape(-1, 1), target=34962)
        indices = pack.add(body.mesh.faces.astype("<u4").reshape(-1, 1), target=34963)
        pack.body(body, attributes, indices, coloured=shown is not None)
    return pack.bytes()


def colours(field: Field) -> NDArray[np.uint8]:
    """The sRGB colour of each figure of a field: yellow at its bad end, dark blue at its good end."""
    known = field.values[np.isfinite(field.values)]
    low, high = field.limits or ((known.min(), known.max()) if len(known) else (0.0, 1.0))
    share = np.clip((field.values - low) / ((high - low) or 1.0), 0.0, 1.0)
    if field.low_is_bad:
        share = 1.0 - share
    at = np.linspace(0.0, 1.0, len(SCALE))
    scale = np.array(SCALE, dtype=float)
    found = np.stack([np.interp(share, at, scale[:, channel]) for channel in range(3)], axis=1)
    found[~np.isfinite(field.values)] = UNKNOWN
    return np.asarray(np.rint(found), dtype=np.uint8)


def _linear(srgb: NDArray[np.uint8]) -> Floats:
    """sRGB bytes as the linear light that glTF's COLOR_0 wants (IEC 61966-2-1)."""
    share = srgb.astype(float) / 255
    return np.asarray(np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4), dtype=np.float64)


class _Pack:
    """A glTF file while it is put together: its buffer and the lists of its JSON part."""

    def __init__(self) -> None:
        self._buffer = bytearray()
        self._accessors: list[dict[str, Any]] = []
        self._views: list[dict[str, Any]] = []
        self._meshes: list[dict[str, Any]] = []
        self._nodes: list[dict[str, Any]] = []
        self._materials: list[dict[str, Any]] = []

    def add(self, values: NDArray[Any], *, target: int, spread: bool = False) -> int:
        """Add an array (n, k) and give its accessor's number; ``spread`` tells its bounds, as positions need."""
        start = len(self._buffer)
        self._buffer += values.tobytes()
        self._buffer += b"\0" * (-len(self._buffer) % 4)
        self._views.append({"buffer": 0, "byteOffset": start, "byteLength": values.nbytes, "target": target})
        accessor: dict[str, Any] = {
            "bufferView": len(self._views) - 1,
            "componentType": 5125 if values.dtype.kind == "u" else 5126,
            "count": len(values),
            "type": {1: "SCALAR", 3: "VEC3"}[values.shape[1]],
        }
        if spread:
            accessor |= {"min": values.min(axis=0).tolist(), "max": values.max(axis=0).tolist()}
        self._accessors.append(accessor)
        return len(self._accessors) - 1

    def body(self, body: Body, attributes: dict[str, int], indices: int, *, coloured: bool) -> None:
        """Add a body as a node with its mesh and material."""
        colour = (1.0, 1.0, 1.0, 1.0) if coloured else _PLAIN_COLOURS[body.role]
        number = len(self._nodes)
        self._materials.append(
            {
                "name": body.role.value,
                "doubleSided": True,
                "alphaMode": "OPAQUE" if colour[3] == 1 else "BLEND",
                "pbrMetallicRoughness": {"baseColorFactor": colour, "metallicFactor": 0.1, "roughnessFactor": 0.6},
            }
        )
        primitive = {"attributes": attributes, "indices": indices, "material": number}
        self._meshes.append({"name": body.name, "primitives": [primitive]})
        self._nodes.append({"name": body.name, "mesh": number, "extras": {"role": body.role.value}})

    def bytes(self) -> bytes:
        """The whole file."""
        head = {
            "asset": {"version": "2.0", "generator": "Ringwright"},
            "scene": 0,
            "scenes": [{"nodes": list(range(len(self._nodes)))}],
            "nodes": self._nodes,
            "meshes": self._meshes,
            "materials": self._materials,
            "accessors": self._accessors,
            "bufferViews": self._views,
            "buffers": [{"byteLength": len(self._buffer)}],
        }
        text = json.dumps(head, separators=(",", ":")).encode()
        text += b" " * (-len(text) % 4)
        parts = struct.pack("<II", len(text), 0x4E4F534A) + text
        parts += struct.pack("<II", len(self._buffer), 0x004E4942) + bytes(self._buffer)
        return struct.pack("<4sII", b"glTF", 2, 12 + len(parts)) + parts
