"""A model file read: its unit settled, its bodies closed and sorted, everything that was mended told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science import cylinders, mending, solids
from ringwright.steps.piece import _mend, _scene, _sort, _stl, _threemf, _units
from ringwright.steps.piece._mend import Mends, Open, Shell
from ringwright.steps.piece._raw import EXTENTS_MM, MAX_BYTES, UNITS_MM, Raw, RawBody, checked
from ringwright.terms.body import Body, Mesh, Role
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput, ComputingFault, bad
from ringwright.terms.piece import Drawn, PieceLimit
from ringwright.terms.remark import Level, Remark

READERS: dict[str, Callable[[bytes, str], Raw]] = {
    ".stl": _stl.read_stl,
    ".3mf": _threemf.read_3mf,
    ".obj": _scene.read_obj,
    ".ply": _scene.read_ply,
    ".glb": _scene.read_glb,
    ".step": _scene.read_step,
    ".stp": _scene.read_step,
}
COARSE_MM = 0.005
"""Step of the coordinates that is too coarse: the size of the hole is to be known within 0.02 mm."""
CROSSING_MM = 0.002
"""Faces that pass through one another by less are not told: 32-bit coordinates alone may do as much."""


def read(data: bytes, suffix: str, units: str | None, name: str, limits: Sequence[PieceLimit]) -> Drawn:
    """The model in ``data``, in mm, as closed metal and stones.

    ``suffix`` is that of the file's name (".stl", ".3mf", ".obj", ".ply", ".glb", ".step"); ``units`` what the
    commission declares (mm, cm, m or in), which wins over what the file says; without either the unit is guessed from
    the hole. ``limits`` are the rows of the facts' table ``piece_limits``. Raises :class:`BadInput` with one sentence
    for a file that is empty, cut short, not what its suffix says, too large, open, one-sided, or crosses itself.
    """
    said = _units.declared(units, name)
    reader = READERS.get(suffix.lower())
    if reader is None:
        raise bad(name, f"'{suffix}' is no kind of model that is read", "STL, 3MF, OBJ, PLY, GLB or STEP")
    if not data:
        raise bad(name, "the file is empty", "export the model again")
    if len(data) > MAX_BYTES:
        raise bad(name, f"it has {len(data) // 2**20:,} MiB", f"at most {MAX_BYTES // 2**20} MiB are read")
    mends = Mends()
    raw = _thinned(checked(reader(data, name), name), mends)
    unit, factor, shown = _settled(raw, said, data, tuple(limits), name)
    _bounded(raw, factor, name)
    return _drawn(raw, factor, unit, shown, mends, tuple(limits), name)


def _thinned(raw: Raw, mends: Mends) -> Raw:
    """Large bodies thinned out together to what is kept, each in proportion."""
    total = sum(len(body.faces) for body in raw.bodies)
    if total <= _mend.KEEP_TRIANGLES:
        return raw
    bodies = []
    for body in raw.bodies:
        vertices, faces = mending.welded(body.vertices, body.faces)
        keep = max(int(len(faces) / total * _mend.KEEP_TRIANGLES), 1000)
        bodies.append(RawBody(body.name, body.material, *_mend.thinned(vertices, faces, mends, keep)))
    return Raw(raw.format, tuple(bodies), raw.unit, raw.by_standard)


def _settled(
    raw: Raw, said: str | None, data: bytes, limits: tuple[PieceLimit, ...], name: str
) -> tuple[_units.Unit, float, str]:
    """The unit, the millimetres in one number of the file, and the unit's name to be shown."""
    whole = solids.joined(Mesh(body.vertices, body.faces) for body in raw.bodies)
    low, high = solids.bounds(whole)
    extent = float((high - low).max())
    if not extent > 0:
        raise bad(name, "all its corners lie in one place", "export the model again")
    # A unit that is stated is only looked at askance by the model's size; one that is guessed is told by the hole.
    stated = said is not None or (raw.unit is not None and not raw.by_standard)
    radius = None if stated else cylinders.rough_radius(whole)
    hole = None if radius is None else 2.0 * radius
    own = _scene.step_unit(data) if raw.format == "STEP" else None
    if own is None or own == "m":
        unit = _units.settle(raw, said, hole, extent, limits)
        return unit, UNITS_MM[unit.name], unit.name
    # A STEP file's bodies come in metres, whatever unit it was drawn in.
    per_number = UNITS_MM["m"] / UNITS_MM[own]
    drawn = Raw(raw.format, raw.bodies, own)
    unit = _units.settle(drawn, said, None if hole is None else hole * per_number, extent * per_number, limits)
    return unit, per_number * UNITS_MM[unit.name], unit.name


def _bounded(raw: Raw, factor: float, name: str) -> None:
    """Raises :class:`BadInput` for a model of no possible size, or so far off that its numbers are too coarse."""
    points = [body.vertices for body in raw.bodies if len(body.vertices)]
    low = factor * np.min([p.min(axis=0) for p in points], axis=0)
    high = factor * np.max([p.max(axis=0) for p in points], axis=0)
    extent, away = float((high - low).max()), float(np.abs([low, high]).max())
    if not EXTENTS_MM[0] <= extent <= EXTENTS_MM[1]:
        raise bad(name, f"it measures {extent:.3g} mm", "see in which unit it was exported, and declare that unit")
    coarse = away * float(np.finfo(np.float32).eps)
    if raw.format in ("STL, binary", "GLB") and coarse > COARSE_MM:
        raise bad(
            name,
            f"it lies {away:.3g} mm from the origin, where 32-bit numbers step by {coarse:.2g} mm",
            "move it to the origin and export it again",
        )


@dataclass(frozen=True, eq=False)
class _Part:
    """A closed shell and what it is."""

    shell: Shell
    name: str
    guess: _sort.Guess


def _drawn(
    raw: Raw, factor: float, unit: _units.Unit, shown: str, mends: Mends, limits: tuple[PieceLimit, ...], name: str
) -> Drawn:
    scaled = [RawBody(b.name, b.material, b.vertices * factor, b.faces) for b in raw.bodies if len(b.faces)]
    parts = _sorted(_closed(scaled, mends, name))
    stones = [part for part in parts if part.guess.role is Role.STONE]
    metal, remarks = _metal([part.shell for part in parts if part.guess.role is Role.METAL], mends, limits, name)
    bodies = [Body("ring", Role.METAL, metal)]
    for number, part in enumerate(stones, start=1):
        called = part.name or f"stone {number}"
        taken = {body.name for body in bodies}
        called = called if called not in taken else f"{called} {number}"
        bodies.append(Body(called, Role.STONE, part.shell.mesh))
        remarks.append(_stone_remark(called, part))
    sentences = mends.sentences()
    if sentences:
        remarks.insert(0, _mended_remark(sentences, mends))
    return Drawn(
        name=name,
        format=raw.format,
        units=shown,
        units_from=unit.by,
        bodies=tuple(bodies),
        closed_as_drawn=not (mends.was_open or mends.joined),
        mended=sentences,
        remarks=(*unit.remarks, *remarks),
    )


def _closed(bodies: list[RawBody], mends: Mends, name: str) -> list[tuple[str, str, list[Shell]]]:
    """Each body as its closed shells. Bodies that are open alone (a solid cut up by colour) may close together."""
    out, loose = [], []
    fault: BadInput | None = None
    for body in bodies:
        at = f"{name}, body '{body.name}'" if len(bodies) > 1 and body.name else name
        tally = Mends()
        try:
            mesh, as_drawn = _mend.closed(body.vertices, body.faces, tally, at)
        except Open as opened:
            fault = fault or opened.fault
            loose.append(body)
            continue
        mends.add(tally)
        out.append((body.name, body.material, _mend.faced(mesh, mends, as_drawn=as_drawn)))
    if fault is None:
        return out
    if len(loose) < 2:
        raise fault
    whole = solids.joined(Mesh(body.vertices, body.faces) for body in loose)
    try:
        mesh, as_drawn = _mend.closed(whole.vertices_mm, whole.faces, mends, name)
    except Open:
        raise fault from None
    mends.said.append(f"{len(loose)} open bodies joined to closed ones")
    out.append((loose[0].name, loose[0].material, _mend.faced(mesh, mends, as_drawn=as_drawn)))
    return out


def _sorted(bodies: list[tuple[str, str, list[Shell]]]) -> list[_Part]:
    """Metal and stones. The body with the most volume is metal unless it is called a stone."""
    parts = [
        _Part(shell, name, _sort.sorted_out(shell.mesh, name, material))
        for name, material, shells in bodies
        for shell in shells
    ]
    if not any(part.guess.role is Role.METAL for part in parts):
        k = int(np.argmax([solids.volume(part.shell.mesh) for part in parts])) if parts else -1
        if k >= 0:
            parts[k] = _Part(parts[k].shell, parts[k].name, _sort.Guess(Role.METAL, "nothing else is metal", False))
    return parts


def _metal(shells: list[Shell], mends: Mends, limits: tuple[PieceLimit, ...], name: str) -> tuple[Mesh, list[Remark]]:
    """All metal as one closed mesh, overlapping shells united; and what to remark of it."""
    if not shells:
        raise bad(name, "it encloses no volume", "export a solid body")
    remarks: list[Remark] = []
    wholes = [solids.joined([shell.mesh, *map(solids.reversed_faces, shell.hollows)]) for shell in shells]
    metal = wholes[0] if len(wholes) == 1 else _united(wholes, mends, name)
    hollows = sum(len(shell.hollows) for shell in shells)
    if hollows:
        remarks.append(_hollow_remark(hollows, [h for shell in shells for h in shell.hollows]))
    remarks += _crossed(metal, limits, name)
    remarks += _apart(metal, limits)
    return metal, remarks


def _united(wholes: list[Mesh], mends: Mends, name: str) -> Mesh:
    before = sum(solids.volume(whole) for whole in wholes)
    try:
        metal = solids.united(wholes)
    except ComputingFault:
        raise bad(name, "its shells cannot be united to one solid", "unite them in the modeller") from None
    doubled = before - solids.volume(metal)
    if doubled <= 1e-9 * before:
        return solids.joined(wholes)
    mends.united += len(wholes)
    mends.united_mm3 += doubled
    return metal


def _crossed(metal: Mesh, limits: tuple[PieceLimit, ...], name: str) -> list[Remark]:
    """A remark where the surface crosses itself a little. Raises :class:`BadInput` where it does so for more."""
    from ringwright.science import crossings

    found = crossings.crossings(metal, CROSSING_MM)
    if found is None:
        return []
    share = 100.0 * crossings.doubled_volume(metal, found.faces) / solids.volume(metal)
    x, y, z = found.point_mm
    what = f"its surface crosses itself ({len(found.faces):,} triangles, {found.depth_mm:.3f} mm deep near"
    what += f" ({x:.2f}, {y:.2f}, {z:.2f}))"
    right = "unite the parts in the modeller so that no face passes through another"
    bound = used(limits, "crossing")
    if share > float(bound.halt_percent or 0.0):
        raise bad(name, what, right)
    says = f"The model's surface crosses itself: {len(found.faces):,} triangles, {found.depth_mm:.3f} mm deep"
    says += f", {share:.3f} % of the volume"
    return [
        Remark(
            "piece", Level.HEED, "crossing", says, share, bound.halt_percent, "%",
            bound.source, f"near ({x:.2f}, {y:.2f}, {z:.2f}) of the model",
            change=right,
        )
    ]  # fmt: skip


def _apart(metal: Mesh, limits: tuple[PieceLimit, ...]) -> list[Remark]:
    """A remark for each shell of metal that touches nothing."""
    shells = [shell for shell in solids.shells(metal) if solids.volume(shell) > 0]
    if len(shells) < 2:
        return []
    bound = used(limits, "loose")
    sizes = [solids.volume(shell) for shell in shells]
    main = int(np.argmax(sizes))
    out = []
    for k, shell in enumerate(shells[:40]):
        if k == main:
            continue
        away = solids.gap(shell, shells[main], 50.0)
        x, y, z = solids.mass_properties(shell).centroid_mm
        out.append(
            Remark(
                "piece", Level.HEED, "loose-shell",
                f"A shell of {sizes[k]:.2f} mm3 near ({x:.2f}, {y:.2f}, {z:.2f}) of the model stands apart from the"
                f" rest, {away:.3f} mm away; it counts as metal",
                away, bound.heed_mm, "mm", bound.source, f"near ({x:.2f}, {y:.2f}, {z:.2f}) of the model",
                change="join it to the ring in the modeller; if it is a stone, give it its name or its own body",
            )
        )  # fmt: skip
    return out


def _hollow_remark(count: int, hollows: list[Mesh]) -> Remark:
    volume = sum(solids.volume(hollow) for hollow in hollows)
    x, y, z = solids.mass_properties(max(hollows, key=solids.volume)).centroid_mm
    return Remark(
        "piece", Level.HEED, "hollow",
        f"The metal encloses {count} hollow{'s' if count > 1 else ''} of {volume:.2f} mm3 without a way out: resin"
        " stays inside the pattern, and no investment gets in",
        volume, unit="mm3", place=f"near ({x:.2f}, {y:.2f}, {z:.2f}) of the model",
        change="open the hollow to the inside of the ring, or fill it",
    )  # fmt: skip


def _stone_remark(name: str, part: _Part) -> Remark:
    low, high = solids.bounds(part.shell.mesh)
    size = " x ".join(f"{extent:.2f}" for extent in sorted(high - low, reverse=True))
    says = f"The body '{name}' ({size} mm) is taken as a stone: {part.guess.why}"
    if part.guess.named:
        return Remark("piece", Level.FINE, "stone", says)
    return Remark("piece", Level.HEED, "stone", says, change="name the bodies in the file if this is wrong")


def _mended_remark(sentences: tuple[str, ...], mends: Mends) -> Remark:
    says = "The model was mended: " + "; ".join(sentences)
    if mends.shape_changed:
        return Remark("piece", Level.HEED, "mended", says, change="see that this is meant, or mend it in the modeller")
    return Remark("piece", Level.FINE, "mended", says)
