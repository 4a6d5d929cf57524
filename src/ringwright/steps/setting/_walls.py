"""How thick the metal is and how wide the gaps in it: fields on the metal, thin places named, knife edges and
crevices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science import solids
from ringwright.steps.setting._head import Head
from ringwright.steps.setting._placed import Placed, point
from ringwright.steps.setting._where import BOTTOM, roles
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Field, Floats, Ints, Mesh
from ringwright.terms.commission import State
from ringwright.terms.facts import used
from ringwright.terms.piece import Piece
from ringwright.terms.remark import Level, Remark
from ringwright.terms.setting import SettingLimit, Stage, ThinPlace, WallLimit, Walls

# How finely the surface is looked at, and what counts as one place; no figures of the trade.
_SAMPLE_MM = 0.15
_MOST_SAMPLES = 40_000
_TOGETHER_MM = 0.45
_LEAST_SAMPLES = 3
_FAR_MM = 6.0
_SLIVER_MM2 = 1e-5
# Edges sharper than this are seen by the balls that measure a wall; beside an edge of 50 degrees a ball of diameter d
# lies
# up to d / (2 tan 25 degrees) = 1.07 d away.
_EDGE_DEG = 100.0
_RUNS_OUT = 1.1
_FOLD_RUNS_OUT = 2.0
_LOOKED_MM = 0.8


@dataclass(frozen=True, eq=False)
class Seen:
    """What is known of the surface: samples with wall and gap, the fields on the mesh's vertices, and sharp edges."""

    points: Floats
    wall: Floats
    gap: Floats
    fields: tuple[Field, ...]
    knives: tuple[Floats, Floats]
    crevices: tuple[Floats, Floats]
    edges: Floats
    folds: Floats


def see(piece: Piece, limits: Sequence[SettingLimit]) -> Seen:
    """Wall and gap of the metal: at its vertices, and at points spread evenly over it, however it is meshed."""
    from ringwright.science.surface import surface
    from ringwright.science.thickness import at_vertices, vertex_normals

    mesh = piece.metal
    tree = surface(mesh)
    count = int(np.clip(solids.area(mesh) / _SAMPLE_MM**2, 4000, _MOST_SAMPLES))
    points = solids.spread_points(mesh, count)
    normals = solids.face_normals(mesh)[tree.nearest(points)[1]]
    spots = Mesh(points, np.empty((0, 3), dtype=np.int64))
    wall = at_vertices(spots, normals=normals, tree=tree, at_most_mm=20.0)
    gap = at_vertices(spots, normals=normals, tree=tree, at_most_mm=_FAR_MM, outside=True)
    towards = vertex_normals(mesh)
    on_mesh = at_vertices(mesh, normals=towards, tree=tree, at_most_mm=20.0)
    off_mesh = at_vertices(mesh, normals=towards, tree=tree, at_most_mm=_FAR_MM, outside=True)
    fields = (
        Field("wall", "Wall thickness as drawn", "mm", "ring", on_mesh),
        Field("gap", "Width of gaps and openings", "mm", "ring", np.where(off_mesh < _FAR_MM, off_mesh, np.nan)),
    )
    knife, crevice = (used(limits, key).at_least or 0.0 for key in ("knife edge", "crevice"))
    known = _turns(mesh)
    middles = [_sharp(mesh, known, angle, convex=way) for way, angle in
               ((True, knife), (False, crevice), (True, _EDGE_DEG), (False, _EDGE_DEG))]  # fmt: skip
    return Seen(points, wall, gap, fields, middles[0][:2], middles[1][:2], middles[2][2], middles[3][2])


def _turns(mesh: Mesh) -> tuple[Ints, Floats, np.ndarray]:
    """For every edge that two whole faces share: its ends (k, 2), how far the surface turns there, and whether
    outward."""
    normals, areas, corners = solids.face_normals(mesh), solids.face_areas(mesh), mesh.corners_mm
    edges = np.sort(solids.half_edges(mesh.faces), axis=1)
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    same = np.flatnonzero((edges[order][1:] == edges[order][:-1]).all(axis=1))
    a, b = order[same] // 3, order[same + 1] // 3
    turn = np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", normals[a], normals[b]), -1.0, 1.0)))
    away = corners[b].mean(axis=1) - corners[a].mean(axis=1)
    outward = np.einsum("ij,ij->i", normals[a], away) < 0
    whole = np.minimum(areas[a], areas[b]) > _SLIVER_MM2
    return edges[order[same[whole]]], turn[whole], outward[whole]


def _sharp(
    mesh: Mesh, known: tuple[Ints, Floats, np.ndarray], angle_deg: float, *, convex: bool
) -> tuple[Floats, Floats, Floats]:
    """Edges sharper than an angle, of metal if ``convex``, of air if not: middles, lengths, and points along them."""
    edges, turn, outward = known
    ends = mesh.vertices_mm[edges[(turn > 180.0 - angle_deg) & (outward == convex)]]
    length = np.asarray(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))
    cuts = np.maximum(1, np.ceil(length / _SAMPLE_MM)).astype(np.int64)
    which = np.repeat(np.arange(len(ends)), cuts)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(cuts) - cuts, cuts) + 0.5) / cuts[which]
    along = ends[which, 0] + share[:, None] * (ends[which, 1] - ends[which, 0])
    return ends.mean(axis=1), length, along


def judge_walls(
    piece: Piece, seen: Seen, stones: Sequence[tuple[Placed, Head]], alloy: Alloy,
    rows: Sequence[WallLimit], limits: Sequence[SettingLimit], stock_mm: float,
) -> tuple[Walls, list[Remark]]:  # fmt: skip
    """The figures of the walls, and what is to be said of them. ``stock_mm`` is what the polish takes of each
    surface."""
    role, place = roles(piece, stones, seen.points)
    from_edge, from_fold = _away(seen.points, seen.edges), _away(seen.points, seen.folds)
    drawn_worn = piece.state is State.FINISHED
    cast = seen.wall + (2 * stock_mm if drawn_worn else 0.0)
    worn = seen.wall - (0.0 if drawn_worn else 2 * stock_mm)
    remarks: list[Remark] = []
    for row in _for_metal(rows, alloy.metal):
        value = worn if row.stage is Stage.WEAR else cast
        if row.role == "gap":
            mine = from_fold > _FOLD_RUNS_OUT * (row.at_least_mm or 0.0)
            remarks += _thin(row, seen.gap, mine, seen.points, place, "gap-narrow")
        elif row.role == BOTTOM:
            remarks += _bottom(piece, row, 0.0 if drawn_worn else 2 * stock_mm)
        elif row.role != "claw":
            clear = from_edge > _RUNS_OUT * (row.at_least_mm or row.never_below_mm or 0.0)
            mine = clear & ((role == row.role) | (row.role == "wall"))
            remarks += _thin(row, value, mine, seen.points, place, "wall-thin")
    remarks = _gravest(remarks)
    shells = solids.shells(piece.metal)
    remarks += _apart(piece, shells, stones, limits)
    remarks += _edges(seen, piece, stones, limits)
    gaps = np.flatnonzero((seen.gap < _FAR_MM) & (from_fold > _FOLD_RUNS_OUT * _LOOKED_MM))
    clear = from_edge > _RUNS_OUT * _LOOKED_MM
    walls = Walls(
        thinnest=_lowest(seen.points, seen.wall, place, np.flatnonzero(clear), cast - seen.wall, worn - seen.wall),
        narrowest=_lowest(seen.points, seen.gap, place, gaps, seen.wall - cast, seen.wall - worn)[:6],
        median_mm=float(np.median(seen.wall)), knife_mm=float(seen.knives[1].sum()),
        crevice_mm=float(seen.crevices[1].sum()), shells=len(shells),
    )  # fmt: skip
    return walls, remarks


def _for_metal(rows: Sequence[WallLimit], metal: str) -> list[WallLimit]:
    """The rows that are used for a metal: its own in place of the general one."""
    chosen = [used(rows, key) for key in dict.fromkeys(row.key for row in rows)]
    own = {(row.role, row.stage) for row in chosen if row.metal == metal}
    return [row for row in chosen if row.metal == metal or (not row.metal and (row.role, row.stage) not in own)]


def claw_rows(rows: Sequence[WallLimit], metal: str) -> list[WallLimit]:
    """The rows for claws of this metal."""
    return [row for row in _for_metal(rows, metal) if row.role == "claw"]


def _away(points: Floats, edges: Floats) -> Floats:
    """How far each point is from the nearest sharp edge: beside one, wall or gap runs out to nothing and is none."""
    from scipy.spatial import cKDTree

    if not len(edges):
        return np.full(len(points), np.inf)
    return np.asarray(cKDTree(edges).query(points, distance_upper_bound=2.0)[0])


def _clusters(points: Floats) -> Ints:
    """The number of the place to which each point belongs: those close together are one."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(_TOGETHER_MM, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points)))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _thin(
    row: WallLimit, value: Floats, mine: np.ndarray, points: Floats, place: np.ndarray, kind: str
) -> list[Remark]:
    limit = row.at_least_mm or row.never_below_mm or 0.0
    low = np.flatnonzero(mine & (value < limit))
    if not len(low):
        return []
    said = []
    labels = _clusters(points[low])
    for label in np.flatnonzero(np.bincount(labels) >= _LEAST_SAMPLES):
        members = low[labels == label]
        worst = members[np.argmin(value[members])]
        figure = float(value[worst])
        halt = row.never_below_mm is not None and figure < row.never_below_mm
        bound = row.never_below_mm if halt and row.never_below_mm else limit
        what = "gap" if kind == "gap-narrow" else "wall"
        said.append(
            Remark(
                "setting", Level.HALT if halt else Level.HEED, kind,
                f"{place[worst]}: the {what} is {figure:.2f} mm ({row.title.lower()})", figure, bound, "mm", row.source,
                str(place[worst]), point(points[worst]),
                f"widen it to {limit:g} mm or close it" if what == "gap"
                else f"draw it thicker by {limit - figure:.2f} mm: at least {limit:g} mm",
            )
        )  # fmt: skip
    return said


def _gravest(remarks: list[Remark]) -> list[Remark]:
    """One remark for each kind and place: the gravest, and of those the one that lacks most."""
    best: dict[tuple[str, str], Remark] = {}

    def key(r: Remark) -> tuple[int, float]:
        return r.level.rank, (r.limit or 0.0) - (r.figure or 0.0)

    for remark in remarks:
        at = (remark.kind, remark.place)
        if at not in best or key(remark) > key(best[at]):
            best[at] = remark
    return sorted(best.values(), key=key, reverse=True)


def _bottom(piece: Piece, row: WallLimit, off_mm: float) -> list[Remark]:
    thick = piece.band_thickness_mm - off_mm
    at = (0.0, -(piece.hole.diameter_mm + piece.band_thickness_mm) / 2, 0.0)
    least, never = row.at_least_mm or 0.0, row.never_below_mm or 0.0
    says = f"the shank is {thick:.2f} mm thick at the bottom"
    if thick >= least:
        return [Remark("setting", Level.FINE, "bottom-thin", says, thick, least, "mm", row.source, BOTTOM, at)]
    level, bound = (Level.HALT, never) if thick < never else (Level.HEED, least)
    change = f"draw the shank {least:g} mm thick or more at the bottom"
    return [Remark("setting", level, "bottom-thin", says, thick, bound, "mm", row.source, BOTTOM, at, change)]


def _apart(
    piece: Piece, shells: tuple[Mesh, ...], stones: Sequence[tuple[Placed, Head]], limits: Sequence[SettingLimit]
) -> list[Remark]:
    """Bodies of metal that touch no other."""
    if len(shells) < 2:
        return []
    limit = used(limits, "apart")
    order = sorted(shells, key=lambda s: -abs(solids.volume(s)))
    said = []
    for n, shell in enumerate(order[1:], start=1):
        if solids.volume(shell) < 0:
            continue  # a hollow
        rest = solids.joined([other for k, other in enumerate(order) if k != n and solids.volume(other) > 0])
        gap = solids.gap(shell, rest, 5.0)
        if gap <= (limit.at_most or 0.0):
            continue
        middle = shell.vertices_mm.mean(axis=0)
        place = str(roles(piece, stones, middle[None])[1][0])
        said.append(
            Remark(
                "setting", Level.HALT, "metal-apart",
                f"{place}: a body of metal stands by itself, {gap:.2f} mm from the rest", gap, limit.at_most, "mm",
                limit.source, place, point(middle), "join it to the ring in the model, with an overlap of 0.15 mm",
            )
        )  # fmt: skip
    return said


def _edges(
    seen: Seen, piece: Piece, stones: Sequence[tuple[Placed, Head]], limits: Sequence[SettingLimit]
) -> list[Remark]:
    said = []
    for kind, key, (middles, lengths), what, change in (
        ("knife-edge", "knife edge", seen.knives, "knife edge", "round it, or draw a flat of 0.3 mm along it"),
        ("crevice", "crevice", seen.crevices, "inner corner drawn sharp",
         "fill it with a fillet of 0.13 mm radius or more"),
    ):  # fmt: skip
        if lengths.sum() <= _TOGETHER_MM:
            continue
        longest = int(np.argmax(lengths))
        place = str(roles(piece, stones, middles[longest][None])[1][0])
        limit = used(limits, key)
        says = f"{lengths.sum():.1f} mm of {what}, the longest at: {place}"
        figure = float(lengths.sum())
        said.append(
            Remark("setting", Level.HEED, kind, f"{says} (sharper than {limit.at_least:g}°)", figure, unit="mm",
                   place=place, point_mm=point(middles[longest]), change=change)
        )  # fmt: skip
    return said


def _lowest(
    points: Floats, value: Floats, place: np.ndarray, among: Ints, to_cast: Floats, to_worn: Floats
) -> tuple[ThinPlace, ...]:
    """The lowest value of each place, lowest first."""
    if not len(among):
        return ()
    found = []
    for name in dict.fromkeys(place[among]):
        members = among[place[among] == name]
        # The third lowest, so that one odd facet does not speak for a place.
        k = members[np.argsort(value[members])[min(2, len(members) - 1)]]
        found.append((float(value[k]), str(name), int(k)))
    return tuple(
        ThinPlace(
            place=name, point_mm=point(points[k]), drawn_mm=drawn, cast_mm=float(drawn + to_cast[k]),
            worn_mm=float(drawn + to_worn[k]),
        )
        for drawn, name, k in sorted(found)[:16]
    )  # fmt: skip
