"""OBJ, PLY, GLB and STEP: formats with named bodies, materials, or both."""

from __future__ import annotations

import io
import json
import re
import struct
from typing import Any

import numpy as np

from ringwright.steps.piece._raw import MAX_PLACED, MAX_TRIANGLES, Raw, RawBody, cut_short, too_many
from ringwright.terms.mistake import bad

STEP_DEFLECTION_MM = 0.002
"""How far a chord may fall short of the drawn surface when a STEP file is cut into triangles."""
STEP_DEFLECTION_SHARE = 1e-4
"""The same as a share of the model's extent, where that is more: a model a kilometre long would never be done."""
STEP_TURN_RAD = 0.15
"""How far the surface may turn from one triangle to the next: 42 and more round a hole."""


def read_obj(data: bytes, where: str) -> Raw:
    """The bodies of an OBJ: one for each object; where it names one object at most, one for each material."""
    points: list[tuple[float, float, float]] = []
    groups: dict[tuple[str, str], list[tuple[int, int, int]]] = {}
    body, material, by_object = "", "", False
    now = groups.setdefault((body, material), [])
    for number, line in enumerate(data.splitlines(), start=1):
        words = line.split()
        if not words:
            continue
        kind = words[0]
        try:
            if kind == b"v":
                points.append((float(words[1]), float(words[2]), float(words[3])))
            elif kind == b"f":
                corners = [_index(word, len(points)) for word in words[1:]]
                now.extend((corners[0], corners[k], corners[k + 1]) for k in range(1, len(corners) - 1))
            elif kind in (b"o", b"g") and (kind == b"o" or not by_object):
                by_object = by_object or kind == b"o"
                body = b" ".join(words[1:]).decode("utf-8", "replace")
                now = groups.setdefault((body, material), [])
            elif kind == b"usemtl":
                material = b" ".join(words[1:]).decode("utf-8", "replace")
                now = groups.setdefault((body, material), [])
        except (ValueError, IndexError):
            shown = line[:40].decode("utf-8", "replace")
            raise bad(where, f"line {number:,}: '{shown}' is no vertex or face", "export the model again") from None
    if not points:
        raise bad(where, "it holds no vertices and is no OBJ", "export the model as OBJ, STL or 3MF")
    filled = {key: faces for key, faces in groups.items() if faces}
    objects = {key[0] for key in filled}
    merged: dict[tuple[str, str], list[tuple[int, int, int]]] = {}
    for (name, made_of), faces in filled.items():
        key = next(k for k in filled if k[0] == name) if len(objects) > 1 else (name, made_of)
        merged.setdefault(key, []).extend(faces)
    vertices = np.array(points, dtype=np.float64)
    return Raw("OBJ", tuple(_own(name, made_of, vertices, faces) for (name, made_of), faces in merged.items()))


def _index(word: bytes, count: int) -> int:
    index = int(word.split(b"/", 1)[0])
    if index == 0:
        raise ValueError(word)
    return index - 1 if index > 0 else count + index


def _own(name: str, material: str, vertices: np.ndarray, faces: list[tuple[int, int, int]]) -> RawBody:
    """The body with only the vertices that it uses; an index that is not there stays out of range."""
    indices = np.array(faces, dtype=np.int64).reshape(-1, 3)
    if indices.min() < 0 or indices.max() >= len(vertices):
        return RawBody(name, material, vertices, indices)
    used, inverse = np.unique(indices, return_inverse=True)
    return RawBody(name, material, vertices[used], inverse.reshape(-1, 3))


def read_ply(data: bytes, where: str) -> Raw:
    """The one body of a PLY, text or binary."""
    import trimesh

    head = data[:65536].split(b"end_header", 1)[0]
    if not data.startswith(b"ply") or b"end_header" not in data[:65536]:
        raise bad(where, "it is no PLY (no head that begins with 'ply')", "export the model as PLY, STL or 3MF")
    for word in re.findall(rb"element\s+\w+\s+(\d+)", head):
        if int(word) > 3 * MAX_TRIANGLES:
            raise too_many(where, int(word))
    try:
        mesh: Any = trimesh.load(io.BytesIO(data), file_type="ply", process=False, maintain_order=True)
        vertices = np.asarray(mesh.vertices, dtype=np.float64)
        faces = np.asarray(mesh.faces, dtype=np.int64)
    except MemoryError:
        raise
    except Exception:  # the reader's faults are of every kind; all mean that the file is not whole
        raise cut_short(where, "the PLY cannot be read to its end") from None
    return Raw("PLY", (RawBody("", "", vertices, faces),))


def read_glb(data: bytes, where: str, form: str = "GLB") -> Raw:
    """The placed bodies of a GLB in metres, one for each part and material."""
    import trimesh

    _check_glb(data, where)
    try:
        scene = trimesh.load_scene(io.BytesIO(data), file_type="glb", process=False)
        nodes = list(scene.graph.nodes_geometry)
        if len(nodes) > MAX_PLACED:
            raise bad(where, f"the file places {len(nodes):,} bodies", "export one ring alone")
        bodies, count = [], 0
        for node in nodes:
            transform, shape = scene.graph[node]
            mesh = scene.geometry[shape]
            if not hasattr(mesh, "faces"):
                continue
            count += len(mesh.faces)
            if count > MAX_TRIANGLES:
                raise too_many(where, count)
            bodies.append(_placed(str(node), mesh, np.asarray(transform, dtype=np.float64)))
    # The library trusts the file: these are what a spoiled one makes it trip over.
    except (KeyError, ValueError, TypeError, IndexError, AttributeError, struct.error, NotImplementedError):
        raise cut_short(where, f"the {form} cannot be read to its end") from None
    return Raw(form, tuple(bodies), "m", by_standard=True)


def _placed(name: str, mesh: Any, transform: np.ndarray) -> RawBody:
    material = str(getattr(getattr(mesh.visual, "material", None), "name", "") or "")
    vertices = np.asarray(mesh.vertices, dtype=np.float64) @ transform[:3, :3].T + transform[:3, 3]
    faces = np.asarray(mesh.faces, dtype=np.int64)
    return RawBody(name, material, vertices, faces if np.linalg.det(transform[:3, :3]) > 0 else faces[:, ::-1])


def _check_glb(data: bytes, where: str) -> None:
    """The container is whole, nothing lies in other files, nothing is packed in a way that is not read here, and no
    accessor asks for more than may be."""
    if len(data) < 20 or data[:4] != b"glTF":
        raise bad(where, "it is no GLB", "export the model as GLB, STL or 3MF")
    _, version, length, size, kind = struct.unpack_from("<4sIIII", data, 0)
    if length > len(data) or 20 + size > len(data):
        raise cut_short(where, f"the GLB's head says {length:,} bytes and {len(data):,} are there")
    try:
        tree = json.loads(data[20 : 20 + size])
        accessors = [int(one.get("count", 0)) for one in tree.get("accessors", [])]
        outside = any(not str(one.get("uri", "data:")).startswith("data:") for one in tree.get("buffers", []))
    except (ValueError, AttributeError, TypeError):
        tree, accessors, outside = None, [], False
    if version != 2 or kind != 0x4E4F534A or tree is None:
        raise bad(where, "the GLB's head is not as it must be", "export the model as GLB version 2")
    if outside:
        raise bad(where, "the GLB keeps its shape in another file", "export it with all data in one file")
    packed = [name for name in tree.get("extensionsRequired", []) if "compression" in str(name)]
    if packed:
        raise bad(where, f"the GLB is packed ({packed[0]})", "export it without mesh compression")
    if max(accessors, default=0) > 3 * MAX_TRIANGLES or sum(accessors) > 12 * MAX_TRIANGLES:
        raise too_many(where, sum(accessors) // 3)


def read_step(data: bytes, where: str) -> Raw:
    """The bodies of a STEP file or assembly, cut into triangles, in metres; first coarsely, to see how large it is."""
    if b"ISO-10303-21" not in data[:2048]:
        raise bad(where, "it is no STEP file (no 'ISO-10303-21' at its head)", "export the model as STEP, STL or 3MF")
    if b"END-ISO-10303-21" not in data[-4096:]:
        raise cut_short(where, "it ends without 'END-ISO-10303-21'")
    if b"HEADER;" not in data or b"DATA;" not in data or data.count(b"ENDSEC;") < 2:
        raise bad(where, "the STEP file lacks its header or its data", "export the model again")
    size = _size_mm(_cut_up(data, 0.05, 0.5, where, relative=True))
    fine = max(STEP_DEFLECTION_MM, STEP_DEFLECTION_SHARE * size)
    return _cut_up(data, fine, STEP_TURN_RAD, where)


def _cut_up(data: bytes, linear: float, turn: float, where: str, *, relative: bool = False) -> Raw:
    """The solids as triangles in metres, to a chord height in mm or relative to each edge."""
    import cascadio

    glb = cascadio.to_glb_bytes(
        data,
        cascadio.FileType.STEP,
        tol_linear=linear,
        tol_angular=turn,
        tol_relative=relative,
        merge_primitives=True,
        use_parallel=False,
    )
    if not glb:
        raise bad(where, "the STEP file holds no solid that can be read", "export the solids as AP214 or AP242")
    return Raw("STEP", read_glb(glb, where, "STEP").bodies, "m")


def _size_mm(raw: Raw) -> float:
    """The largest extent of bodies in metres, in mm; 0 without any."""
    points = [body.vertices for body in raw.bodies if len(body.vertices)]
    return 1000.0 * float(np.ptp(np.concatenate(points), axis=0).max()) if points else 0.0


def step_unit(data: bytes) -> str | None:
    """The length unit that a STEP file states, as far as its text tells."""
    if re.search(rb"CONVERSION_BASED_UNIT\s*\(\s*'INCH'", data, re.IGNORECASE):
        return "in"
    found = re.search(
        rb"LENGTH_UNIT\s*\(\s*\)[^;]*?SI_UNIT\s*\(\s*(\$|\.MILLI\.|\.CENTI\.|\.MICRO\.)\s*,\s*\.METRE\.", data
    )
    found = found or re.search(rb"SI_UNIT\s*\(\s*(\$|\.MILLI\.|\.CENTI\.|\.MICRO\.)\s*,\s*\.METRE\.", data)
    names = {b"$": "m", b".MILLI.": "mm", b".CENTI.": "cm", b".MICRO.": "micron"}
    return names[found.group(1)] if found else None
