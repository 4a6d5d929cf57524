"""Where each stone sits: given in the commission, drawn in the model, offered by a starter, or found from the metal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringwright.science import solids
from ringwright.steps.setting._placed import Placed, Stone
from ringwright.terms.body import Body, Floats, Mesh
from ringwright.terms.commission import SeatBrief
from ringwright.terms.facts import used
from ringwright.terms.piece import Piece, seat_axes
from ringwright.terms.remark import Level, Remark
from ringwright.terms.setting import Seated, SettingLimit

_UNITS = {"cm": 10.0, "m": 1000.0, "inches": 25.4}


def places(piece: Piece, stones: Sequence[Stone], limits: Sequence[SettingLimit]) -> tuple[list[Placed], list[Remark]]:
    """The stones in their places, in the order of the commission, and what is to be said of it."""
    remarks: list[Remark] = []
    drawn = _matched(piece.stones, stones)
    offered = [seat for seat in piece.seats if not _given(piece, seat, stones)]
    found: dict[int, Placed] = {}
    refused: set[int] = set()
    for n, (brief, gem, solid) in enumerate(stones):
        if brief.seat is not None:
            found[n] = _from_seat((brief, gem, solid), piece.placement.seat(brief.seat), Seated.GIVEN)
        elif n in drawn:
            said = _wrong_units(drawn[n], (brief, gem, solid))
            if said is None:
                found[n] = _from_drawn((brief, gem, solid), drawn[n])
                remarks += _misfit(found[n], drawn[n], limits)
            else:
                remarks.append(said)
                refused.add(n)
        elif offered:
            found[n] = _from_seat((brief, gem, solid), offered.pop(0), Seated.STARTER)
    missing = [n for n in range(len(stones)) if n not in found and n not in refused]
    if missing:
        from ringwright.steps.setting._search import search

        taken = list(found.values())
        for n in sorted(missing, key=lambda n: -stones[n][2].volume_mm3):
            place = search(piece, stones[n], taken)
            if place is None:
                remarks.append(_nowhere(stones[n]))
            else:
                found[n] = place
                taken.append(place)
    listed = {body.name for body in drawn.values()}
    for body in piece.stones:
        if body.name not in listed and stones:
            says = f"the model holds a stone '{body.name}' that the commission does not list"
            change = "list it as a [[stone]], or take it out of the model"
            remarks.append(Remark("setting", Level.HEED, "stone-unlisted", says, change=change))
    return [found[n] for n in sorted(found)], remarks


def _from_seat(stone: Stone, seat: SeatBrief, seated: Seated) -> Placed:
    return Placed(*stone, seated, seat_axes(seat), np.array(seat.at_mm, dtype=np.float64))


def _given(piece: Piece, seat: SeatBrief, stones: Sequence[Stone]) -> bool:
    """Whether this seat of the piece is one that the commission gives to a stone."""
    given = [piece.placement.seat(brief.seat) for brief, _, _ in stones if brief.seat is not None]
    return any(np.allclose(seat.at_mm, other.at_mm, atol=1e-6) for other in given)


def _matched(bodies: Sequence[Body], stones: Sequence[Stone]) -> dict[int, Body]:
    """Which drawn stone is which: by name, the others by volume, the nearest pair first."""
    free = list(bodies)
    found: dict[int, Body] = {}
    for n, (brief, _, _) in enumerate(stones):
        same = next((body for body in free if body.name == brief.name), None)
        if same is not None:
            found[n] = same
            free.remove(same)
    pairs = [
        (abs(np.log(abs(solids.volume(body.mesh)) / stones[n][2].volume_mm3)), n, k)
        for n in range(len(stones))
        if n not in found
        for k, body in enumerate(free)
    ]
    taken: set[int] = set()
    for _, n, k in sorted(pairs):
        if n not in found and k not in taken:
            found[n] = free[k]
            taken.add(k)
    return found


def _wrong_units(body: Body, stone: Stone) -> Remark | None:
    """A drawn stone that is as much too large or small as one unit is against another."""
    brief, _, solid = stone
    ratio = (abs(solids.volume(body.mesh)) / solid.volume_mm3) ** (1 / 3)
    for unit, factor in _UNITS.items():
        for scale, drawn in ((factor, "too large"), (1 / factor, "too small")):
            if abs(np.log(ratio / scale)) < 0.12:
                return Remark(
                    "setting", Level.HALT, "stone-units",
                    f"stone '{brief.name}' is drawn {ratio:.3g} times as large as its measures: "
                    f"{drawn} by mm against {unit}",
                    ratio, 1.0, "", "exact: the ratio of the two units", f"stone '{brief.name}'",
                    change="write the stones into the model in the unit of the ring, or correct the stone's measures",
                )  # fmt: skip
    return None


def _from_drawn(stone: Stone, body: Body) -> Placed:
    """The measured stone laid on the drawn one: centres of mass together, every way that a large facet may face
    tried."""
    from scipy.optimize import minimize

    from ringwright.science.surface import surface

    solid = stone[2]
    own = solid.mesh.vertices_mm
    own = own[:: max(1, len(own) // 150)]
    centre = solids.mass_properties(solid.mesh).centroid_mm
    there = solids.mass_properties(body.mesh).centroid_mm
    tree = surface(body.mesh)

    def away(axes: Floats, shift: Floats) -> float:
        return float(np.abs(tree.distance_mm((own - centre) @ axes.T + there + shift)).mean())

    def axes_of(facing: Floats, turn: float) -> Floats:
        return seat_axes(SeatBrief(at_mm=(0, 0, 0), facing=(facing[0], facing[1], facing[2]), turn_deg=turn))

    ways = _flat_ways(body.mesh)
    tried = [
        (away(axes_of(facing, turn), np.zeros(3)), k, turn)
        for k, facing in enumerate(ways)
        for turn in range(0, 360, 15)
    ]
    _, k, turn = min(tried)
    start = axes_of(ways[k], turn)

    def cost(six: Floats) -> float:
        return away(start @ turned(six[:3]), six[3:])

    best = minimize(cost, np.zeros(6), method="Powell", options={"maxfev": 600, "xtol": 1e-4, "ftol": 1e-5})
    axes = start @ turned(best.x[:3])
    return Placed(*stone, Seated.DRAWN, axes, there + best.x[3:] - axes @ centre, float(best.fun))


def _flat_ways(mesh: Mesh) -> list[Floats]:
    """The directions in which the largest flat facets face, and their opposites."""
    vectors = solids.face_vectors(mesh)
    area = np.linalg.norm(vectors, axis=1)
    ways: list[Floats] = []
    limit = 0.99
    for n in np.argsort(-_flat_area(mesh)):
        way = vectors[n] / max(area[n], 1e-12)
        if all(float(way @ other) < limit for other in ways):
            ways.append(way)
        if len(ways) == 4:
            break
    return [sense * way for way in ways for sense in (1.0, -1.0)]


def _flat_area(mesh: Mesh) -> Floats:
    """For every face the area of all faces in its plane."""
    normals = np.round(solids.face_normals(mesh), 3)
    offset = np.round(np.einsum("ij,ij->i", normals, mesh.corners_mm[:, 0]), 2)
    _, which = np.unique(np.column_stack([normals, offset]), axis=0, return_inverse=True)
    which = which.reshape(-1)
    total = np.bincount(which, weights=solids.face_areas(mesh))
    return np.asarray(total[which], dtype=np.float64)


def turned(vector: Floats) -> Floats:
    """The rotation by a vector: its direction the axis, its length the angle in radians."""
    from scipy.spatial.transform import Rotation

    matrix: Floats = Rotation.from_rotvec(vector).as_matrix()
    return matrix


def _misfit(placed: Placed, body: Body, limits: Sequence[SettingLimit]) -> list[Remark]:
    limit = used(limits, "pose fit")
    if limit.at_most is None or placed.fit_mm <= limit.at_most:
        return []
    name = placed.brief.name
    return [
        Remark(
            "setting", Level.HEED, "stone-differs",
            f"stone '{name}' as drawn ('{body.name}') differs from its measures by {placed.fit_mm:.2f} mm in the mean",
            placed.fit_mm, limit.at_most, "mm", limit.source, f"stone '{name}'",
            (float(placed.at[0]), float(placed.at[1]), float(placed.at[2])),
            "draw the head about the stone as measured",
        )
    ]  # fmt: skip


def _nowhere(stone: Stone) -> Remark:
    name = stone[0].name
    return Remark(
        "setting", Level.HALT, "no-metal", f"no place for stone '{name}' was found: nowhere does metal hold its girdle",
        place=f"stone '{name}'",
        change=f"draw a head for it ({stone[1].length_mm:.2f} x {stone[1].width_mm:.2f} mm), or give its seat",
    )  # fmt: skip
