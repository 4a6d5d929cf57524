"""Model files as bytes, good and bad, for the tests of `piece`."""

from __future__ import annotations

import io
import json
import struct
import zipfile

import numpy as np

from ringwright.science import solids, sweeps
from ringwright.terms.body import Mesh

RING = sweeps.revolved(np.array([[8.65, -1.5], [10.25, -1.5], [10.25, 1.5], [8.65, 1.5]]), 128)
"""A band 3 mm wide and 1.6 mm thick with a hole of 17.3 mm."""


def stone(length: float = 6.5, width: float = 6.5, count: int = 16) -> Mesh:
    """A cut stone with table, girdle and pavilion facets, table at +z."""
    turn = sweeps.turns(count)
    outline = np.stack([length / 2 * np.cos(turn), width / 2 * np.sin(turn)], axis=1)
    levels = [(0.56, 1.15), (1.0, 0.1), (1.0, -0.1)]
    points = [np.column_stack([outline * s, np.full(count, z)]) for s, z in levels]
    return solids.hull(np.concatenate([*points, [[0.0, 0.0, -2.9]]]))


def block(x: float, y: float, z: float, at: tuple[float, float, float]) -> Mesh:
    half = np.array([[-x / 2, -y / 2], [x / 2, -y / 2], [x / 2, y / 2], [-x / 2, y / 2]])
    return sweeps.prism(half, -z / 2, z / 2).moved(np.eye(3), np.array(at))


def stl(mesh: Mesh) -> bytes:
    """A binary STL."""
    records = np.zeros(len(mesh.faces), dtype=[("n", "<f4", 3), ("c", "<f4", (3, 3)), ("r", "<u2")])
    records["c"] = mesh.corners_mm
    return b"\0" * 80 + struct.pack("<I", len(records)) + records.tobytes()


def text_stl(mesh: Mesh) -> str:
    """A text STL, seven lines for each triangle after the first line."""
    out = ["solid ring"]
    for corners in mesh.corners_mm:
        out += ["facet normal 0 0 0", " outer loop"]
        out += [f"  vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in corners]
        out += [" endloop", "endfacet"]
    return "\n".join([*out, "endsolid ring", ""])


def obj(*bodies: tuple[str, Mesh], by: str = "o") -> bytes:
    """An OBJ with one object (or group, or material) for each body."""
    out, shift = [], 1
    for name, mesh in bodies:
        out.append(f"{by} {name}")
        out += [f"v {x:.12g} {y:.12g} {z:.12g}" for x, y, z in mesh.vertices_mm]
        out += [f"f {a + shift}//1 {b + shift}//1 {c + shift}//1" for a, b, c in mesh.faces]
        shift += len(mesh.vertices_mm)
    return "\n".join(out).encode()


def ply(mesh: Mesh, *, binary: bool = True) -> bytes:
    head = (
        f"ply\nformat {'binary_little_endian' if binary else 'ascii'} 1.0\nelement vertex {len(mesh.vertices_mm)}\n"
        "property double x\nproperty double y\nproperty double z\n"
        f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode()
    if not binary:
        lines = [" ".join(f"{c:.12g}" for c in v) for v in mesh.vertices_mm] + [
            f"3 {a} {b} {c}" for a, b, c in mesh.faces
        ]
        return head + "\n".join(lines).encode() + b"\n"
    faces = np.zeros(len(mesh.faces), dtype=[("n", "u1"), ("v", "<i4", 3)])
    faces["n"], faces["v"] = 3, mesh.faces
    return head + mesh.vertices_mm.astype("<f8").tobytes() + faces.tobytes()


def threemf(
    *bodies: tuple[str, str, Mesh], unit: str = "millimeter", build: str | None = None, extra: str = "", head: str = ""
) -> bytes:
    """A 3MF with named bodies (name, material, mesh); ``build`` replaces the items, ``extra`` adds resources."""
    materials = "".join(f'<base name="{material}" displaycolor="#FFFFFF"/>' for _, material, _ in bodies)
    objects = []
    for k, (name, _, mesh) in enumerate(bodies):
        vertices = "".join(f'<vertex x="{x:.12g}" y="{y:.12g}" z="{z:.12g}"/>' for x, y, z in mesh.vertices_mm)
        faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces)
        objects.append(
            f'<object id="{k + 1}" name="{name}" type="model" pid="99" pindex="{k}"><mesh>'
            f"<vertices>{vertices}</vertices><triangles>{faces}</triangles></mesh></object>"
        )
    items = build or "".join(f'<item objectid="{k + 1}"/>' for k in range(len(bodies)))
    xml = (
        f'<?xml version="1.0"?>{head}<model unit="{unit}" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f'<resources><basematerials id="99">{materials}</basematerials>{"".join(objects)}{extra}</resources>'
        f"<build>{items}</build></model>"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("3D/3dmodel.model", xml)
    return out.getvalue()


def glb(*bodies: tuple[str, str, Mesh], scale: float = 0.001) -> bytes:
    """A GLB of named bodies (name, material, mesh), the numbers being mm times ``scale``."""
    blob, views, accessors, meshes, nodes, materials = b"", [], [], [], [], []
    for k, (name, material, mesh) in enumerate(bodies):
        points = (mesh.vertices_mm * scale).astype("<f4")
        for data, kind, component, count, target in (
            (points.tobytes(), "VEC3", 5126, len(points), 34962),
            (mesh.faces.astype("<u4").tobytes(), "SCALAR", 5125, 3 * len(mesh.faces), 34963),
        ):
            views.append({"buffer": 0, "byteOffset": len(blob), "byteLength": len(data), "target": target})
            accessors.append({"bufferView": len(views) - 1, "componentType": component, "count": count, "type": kind})
            blob += data
        accessors[-2] |= {"min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist()}
        materials.append({"name": material})
        primitive = {"attributes": {"POSITION": len(accessors) - 2}, "indices": len(accessors) - 1, "material": k}
        meshes.append({"name": name, "primitives": [primitive]})
        nodes.append({"name": name, "mesh": k})
    tree = {
        "asset": {"version": "2.0"}, "buffers": [{"byteLength": len(blob)}], "bufferViews": views,
        "accessors": accessors, "meshes": meshes, "nodes": nodes, "materials": materials,
        "scenes": [{"nodes": list(range(len(nodes)))}], "scene": 0,
    }  # fmt: skip
    return pack_glb(tree, blob)


def pack_glb(tree: dict[str, object], blob: bytes) -> bytes:
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    blob += b"\0" * (-len(blob) % 4)
    total = 12 + 8 + len(text) + 8 + len(blob)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(blob), 0x004E4942) + blob
    return struct.pack("<4sII", b"glTF", 2, total) + chunks
