"""What is done in a process of its own: a look at a dropped model, and a making."""

from __future__ import annotations

import dataclasses
import datetime as dt
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from ringwright.desk._worker import Frame
from ringwright.terms.mistake import BadInput
from ringwright.terms.order import STEPS
from ringwright.terms.progress import Progress
from ringwright.terms.remark import Level, Remark

if TYPE_CHECKING:
    from ringwright.desk._heads import Summary
    from ringwright.desk._working import Telling
    from ringwright.desk.keeping import Keeping
    from ringwright.terms.alloy import Alloy
    from ringwright.terms.body import Body

T = TypeVar("T")


def look(data: dict[str, Any], attached: list[bytes], telling: Progress) -> Frame:
    """First figures of a model: the answer of ``ringwright weigh``, its extent, and a picture where there is a ring."""
    from ringwright import facts
    from ringwright.papers.dossier import remark_data
    from ringwright.papers.plain import plain
    from ringwright.science import solids
    from ringwright.steps import piece

    begun = time.perf_counter()
    name = data["name"]
    tables = facts.load()
    drawn = piece.read(attached[0], Path(name).suffix, data["units"], name, tables.piece_limits)
    telling(0.5, "weighing")
    weight = piece.weigh(drawn, _alloys())
    bodies, remarks, hole = drawn.bodies, drawn.remarks, None
    try:
        ring, found = piece.measure(drawn, (), tables.piece_limits)
        bodies, remarks, hole = ring.bodies, found.remarks, plain(ring.hole)
    except BadInput as fault:
        what, right = fault.mistakes[0].what, fault.mistakes[0].right
        says = f"No finger hole: {what}."
        remarks = (*remarks, Remark("piece", Level.HEED, "no-hole", says, change=right or "see the model"))
    low, high = solids.bounds(solids.joined(body.mesh for body in bodies))
    telling(0.8, "drawing")
    picture = _picture(bodies)
    answer = {
        "name": name,
        "format": drawn.format,
        "units": drawn.units,
        "units_from": drawn.units_from,
        "closed": drawn.closed_as_drawn,
        "mended": drawn.mended,
        "triangles": len(drawn.metal.faces),
        "volume_mm3": weight.volume_mm3,
        "area_mm2": weight.area_mm2,
        "extent_mm": tuple(float(part) for part in high - low),
        "mass_g": weight.mass_g,
        "mass_spread_g": weight.mass_spread_g,
        "stones": tuple(stone.name for stone in drawn.stones),
    }
    told = plain(answer) | {
        "hole": hole,
        "remarks": [remark_data(remark) for remark in remarks],
        "seconds": time.perf_counter() - begun,
    }
    return told, [picture] if picture is not None else []


def warm(data: dict[str, Any], attached: list[bytes], telling: Progress) -> Frame:  # noqa: ARG001 - every task is called alike
    """A look at a ring made here, so that everything that a look needs is loaded and compiled."""
    import numpy as np

    from ringwright.papers.meshfiles import stl
    from ringwright.terms.body import Mesh

    sides, round_ = 12, 48
    turn, tilt = np.meshgrid(
        np.arange(round_) * 2 * np.pi / round_, np.arange(sides) * 2 * np.pi / sides, indexing="ij"
    )
    out = 9.5 + np.cos(tilt)
    points = np.stack([out * np.cos(turn), out * np.sin(turn), np.sin(tilt)], axis=-1).reshape(-1, 3)
    i, j = np.divmod(np.arange(round_ * sides), sides)
    a, b = i * sides + j, (i + 1) % round_ * sides + j
    c, d = (i + 1) % round_ * sides + (j + 1) % sides, i * sides + (j + 1) % sides
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return look({"name": "ring.stl", "units": "mm"}, [stl(Mesh(points, faces))], telling)[0], []


def make(data: dict[str, Any], attached: list[bytes], telling: Telling) -> Frame:
    """A commission worked through, and its dossier put into the store and beside the commission's file.

    ``data`` as :class:`ringwright.desk._makings.Makings` says it; ``attached`` are the texts of commission and
    workshop, and the model where there is one. It is worked as from files, by the functions of the command line.
    """
    from ringwright import papers
    from ringwright.desk._heads import summary_of
    from ringwright.desk._shelf_folder import Folder, outside
    from ringwright.desk.planning import WORKSHOP, read_order, worked
    from ringwright.papers.dossier import dossier
    from ringwright.papers.plain import json_bytes

    now = dt.datetime.fromisoformat(data["now"])
    with tempfile.TemporaryDirectory(prefix="ringwright-") as place:
        order = Path(place) / f"{data['key']}.commission.toml"
        order.write_bytes(attached[0])
        (Path(place) / WORKSHOP).write_bytes(attached[1])
        if data["model"] is not None:
            model = Folder(Path(place), "").inside(data["model"])
            if model is None:
                raise outside(data["model"])
            model.parent.mkdir(parents=True, exist_ok=True)
            model.write_bytes(attached[2])
        if data.get("log") is not None:
            log = Folder(Path(place), "").inside(data["log"])
            if log is None:
                raise outside(data["log"], "thermocouple.file")
            log.parent.mkdir(parents=True, exist_ok=True)
            log.write_bytes(attached[-1])
        counted = Counted(_keeping(), telling)
        making = worked(read_order(order, today=now.date()), order, today=now.date(), progress=telling, keep=counted)
    figures = dossier(making, now)
    telling.say({"worked": list(counted.worked), "kept": list(counted.kept)})
    telling.say({"figures": True}, json_bytes(figures))
    telling(0.97, "writing the dossier")
    files = papers.files_of(making, now)
    telling(1.0, "keeping the dossier")
    told = summary_of(figures)
    note = _put(data, files, told, now)
    return {"verdict": told.verdict.value, "note": note}, []


def _put(data: dict[str, Any], files: dict[str, bytes], told: Summary, now: dt.datetime) -> str:
    """Put a dossier into the store, and beside the file where that is still of this version; what was in the way."""
    from ringwright.desk._folder import new_folder
    from ringwright.desk.planning import dossier_folder
    from ringwright.papers import PICTURE
    from ringwright.store import Store, commissions, dossiers

    store = Store(data["url"])
    try:
        with store.writing() as db:
            dossiers.put(
                db,
                data["key"],
                data["version"],
                data["workshop"],
                files,
                made_at=now,
                picture=files.get(PICTURE),
                **{one.name: getattr(told, one.name) for one in dataclasses.fields(told)},
            )
            head = commissions.version(db, data["key"])
    finally:
        store.close()
    if data["folder"] is None or head is None or head.number != data["version"]:
        return ""
    try:
        with new_folder(dossier_folder(Path(data["folder"]) / f"{data['key']}.commission.toml")) as put:
            put(files)
    except BadInput as fault:
        return str(fault.mistakes[0])
    return ""


_STEPS = frozenset(step.name for step in STEPS)


class Counted:
    """A :class:`~ringwright.terms.progress.Keep` that tells which steps were worked and which were kept."""

    def __init__(self, keep: Keeping, telling: Telling) -> None:
        self._keep = keep
        self._telling = telling
        self.worked: dict[str, None] = {}
        self._called: dict[str, None] = {}

    @property
    def kept(self) -> tuple[str, ...]:
        """The steps of which nothing was worked anew, in order."""
        return tuple(step for step in self._called if step not in self.worked)

    def __call__(self, step: str, function: Callable[..., T], *inputs: Any) -> T:
        """The kept result, or the function's. The reading of the facts is no step, and not told."""
        if step not in _STEPS:
            return self._keep(step, function, *inputs)
        before = self._keep.worked
        result = self._keep(step, function, *inputs)
        self._called[step] = None
        if self._keep.worked != before:
            self.worked[step] = None
        self._telling.say({"worked": list(self.worked), "kept": list(self.kept)})
        return result


@cache
def _alloys() -> tuple[Alloy, ...]:
    """Every alloy of the facts, resolved once for this process."""
    from ringwright import facts
    from ringwright.steps import metal

    tables = facts.load()
    return tuple(
        metal.resolve(
            key, tables.alloys, tables.elements, heats=tables.element_heats, rules=tables.metal_rules, casting=False
        ).result
        for key in dict.fromkeys(row.key for row in tables.alloys)
    )


@cache
def _keeping() -> Keeping:
    """What this process keeps, shared with the command line by the folder on disk."""
    from ringwright.desk.keeping import Keeping, cache_folder

    return Keeping(cache_folder() / "kept")


def _picture(bodies: Sequence[Body]) -> bytes | None:
    """A small picture of metal and stones, seen aslant; None where there is neither."""
    from ringwright.papers.views import ASLANT, views

    found = views(bodies, [ASLANT])
    return found[0].png if found else None
