"""3MF: a zip of XML models with units, named bodies, materials and placed copies.

Read by hand, streaming, because a foreign file is not to be trusted: no document types or entities, what it unfolds to
is bounded, copies of copies are bounded.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

import numpy as np

from ringwright.steps.piece._raw import MAX_PLACED, MAX_TRIANGLES, MAX_UNPACKED, Raw, RawBody, cut_short, too_many
from ringwright.terms.body import Floats
from ringwright.terms.mistake import bad

_UNITS = {"micron": "micron", "millimeter": "mm", "centimeter": "cm", "inch": "in", "foot": "ft", "meter": "m"}
_CHUNK = 2**20
_DEEPEST = 16


@dataclass
class _Object:
    name: str
    kind: str
    material: str
    points: array[float] = field(default_factory=lambda: array("d"))
    triangles: array[int] = field(default_factory=lambda: array("q"))
    parts: list[tuple[str, str, Floats]] = field(default_factory=list)


def read_3mf(data: bytes, where: str) -> Raw:
    """The placed bodies of a 3MF in its own unit. Raises :class:`BadInput` with one sentence for what is wrong."""
    try:
        pack = zipfile.ZipFile(io.BytesIO(data))
        models = [info for info in pack.infolist() if info.filename.lower().endswith(".model")]
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        raise cut_short(where, "it is no whole 3MF (the zip cannot be opened)") from None
    if not models:
        raise bad(where, "the 3MF holds no model", "export the model as 3MF or STL")
    if sum(info.file_size for info in models) > MAX_UNPACKED:
        size = sum(info.file_size for info in models) // 2**20
        raise bad(where, f"it unfolds to {size:,} MiB", f"at most {MAX_UNPACKED // 2**20:,} MiB are read")
    readers: dict[str, _Model] = {}
    for info in models:
        reader = _Model(where)
        try:
            with pack.open(info) as part:
                while chunk := part.read(_CHUNK):
                    reader.feed(chunk)
            reader.done()
        except expat.ExpatError as fault:
            raise cut_short(where, f"{info.filename}, line {fault.lineno:,}: not well-formed XML") from None
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError, RuntimeError):
            raise cut_short(where, f"{info.filename} cannot be unpacked") from None
        readers["/" + info.filename.lstrip("/")] = reader
    root = next((reader for reader in readers.values() if reader.items), None)
    if root is None:
        raise bad(where, "the 3MF places no body", "export the model again")
    return Raw("3MF", tuple(_placed(root, readers, where)), _UNITS.get(root.unit, "mm"))


class _Model:
    """One model part, read by events."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.unit = "millimeter"
        self.objects: dict[str, _Object] = {}
        self.items: list[tuple[str, str, Floats]] = []
        self._materials: dict[tuple[str, str], str] = {}
        self._group = ""
        self._bases = 0
        self._now: _Object | None = None
        self._count = 0
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._parser.StartDoctypeDeclHandler = self._no_doctype

    def feed(self, chunk: bytes) -> None:
        """The next piece of the XML."""
        try:
            self._parser.Parse(chunk, False)
        except (KeyError, ValueError, OverflowError):
            line = self._parser.CurrentLineNumber
            raise bad(
                self.where, f"line {line:,} of the 3MF's model is not as it must be", "export the model again"
            ) from None

    def done(self) -> None:
        """The XML's end."""
        self._parser.Parse(b"", True)

    def _no_doctype(self, *_: object) -> None:
        raise bad(self.where, "the 3MF's XML declares a document type", "a 3MF has none: export the model again")

    def _start(self, tag: str, given: dict[str, str]) -> None:
        name = tag.rsplit(":", 1)[-1]
        if name == "vertex" and self._now is not None:
            self._now.points.extend((float(given["x"]), float(given["y"]), float(given["z"])))
        elif name == "triangle" and self._now is not None:
            self._now.triangles.extend((int(given["v1"]), int(given["v2"]), int(given["v3"])))
            self._count += 1
            if self._count > MAX_TRIANGLES:
                raise too_many(self.where, self._count)
        elif name == "object":
            material = self._materials.get((given.get("pid", ""), given.get("pindex", "0")), "")
            self._now = _Object(given.get("name", ""), given.get("type", "model"), material)
            self.objects[given["id"]] = self._now
        elif name == "component" and self._now is not None:
            self._now.parts.append((_path(given), given["objectid"], _transform(given.get("transform"))))
        elif name == "item":
            self.items.append((_path(given), given["objectid"], _transform(given.get("transform"))))
        elif name == "model":
            self.unit = given.get("unit", "millimeter")
        elif name == "basematerials":
            self._group, self._bases = given["id"], 0
        elif name == "base":
            self._materials[self._group, str(self._bases)] = given.get("name", "")
            self._bases += 1


def _path(given: dict[str, str]) -> str:
    return next((value for key, value in given.items() if key.rsplit(":", 1)[-1] == "path"), "")


def _transform(text: str | None) -> Floats:
    """The (4, 3) matrix of a 3MF transform: a row vector times it, with 1 appended, is the placed point."""
    if text is None:
        return np.vstack([np.eye(3), np.zeros(3)])
    numbers = np.array([float(word) for word in text.split()])
    if numbers.shape != (12,) or not np.isfinite(numbers).all():
        raise ValueError(text)
    return numbers.reshape(4, 3)


def _placed(root: _Model, models: dict[str, _Model], where: str) -> Iterator[RawBody]:
    """Each mesh, wherever the build places it."""
    count = [0, 0]

    def place(model: _Model, number: str, transform: Floats, name: str, depth: int) -> Iterator[RawBody]:
        found = model.objects.get(number)
        if found is None or depth > _DEEPEST:
            what = f"names the body {number}, which is not there" if found is None else "nests its bodies too deep"
            raise bad(where, f"the 3MF {what}", "export the model again")
        if found.kind not in ("model", "solidsupport", "other", "surface") or found.kind == "solidsupport":
            return
        called = found.name or name
        if len(found.triangles):
            count[0] += 1
            count[1] += len(found.triangles) // 3
            if count[0] > MAX_PLACED or count[1] > MAX_TRIANGLES:
                raise too_many(where, count[1])
            yield _body(found, transform, called, where)
        for path, part, inner in found.parts:
            count[0] += 1
            if count[0] > MAX_PLACED:
                raise bad(where, f"the 3MF places more than {MAX_PLACED:,} bodies", "export one ring alone")
            linear, shift = inner[:3] @ transform[:3], inner[3] @ transform[:3] + transform[3]
            yield from place(models.get(path, model), part, np.vstack([linear, shift]), called, depth + 1)

    for path, number, transform in root.items:
        yield from place(models.get(path, root), number, transform, "", 0)


def _body(found: _Object, transform: Floats, name: str, where: str) -> RawBody:
    points = np.array(found.points, dtype=np.float64).reshape(-1, 3) @ transform[:3] + transform[3]
    faces = np.array(found.triangles, dtype=np.int64).reshape(-1, 3)
    turn = float(np.linalg.det(transform[:3]))
    if turn == 0.0:
        raise bad(where, f"the 3MF flattens the body '{name}'", "export the model again")
    return RawBody(name, found.material, points, faces if turn > 0 else faces[:, ::-1])
