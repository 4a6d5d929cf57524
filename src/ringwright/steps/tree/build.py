"""The step's verb: from patterns to the tree in its flask, its mould and its charge."""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ringwright.science.solids import (
    bounds,
    from_manifold,
    is_closed,
    part,
    shell_of_face,
    shells,
    to_manifold,
    volume,
)
from ringwright.steps.tree.charge import Charge, charge, crucible_for
from ringwright.steps.tree.fork import on_one
from ringwright.steps.tree.gates import cut_off, propose_gates
from ringwright.steps.tree.heavy import Studied, modulus_mm, study
from ringwright.steps.tree.layout import INTO_BUTTON_MM, Hung, Part, Sizes
from ringwright.steps.tree.mould import Mix, flask_cm3, mix, smallest
from ringwright.steps.tree.remarks import Found, remarks
from ringwright.steps.tree.shapes import cone_height, frustum
from ringwright.steps.tree.trunk import on_trunk
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body, Floats, Mesh, Residual, Role
from ringwright.terms.facts import used
from ringwright.terms.mistake import ComputingFault, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.progress import Progress, silent
from ringwright.terms.remark import Point
from ringwright.terms.tree import (
    CastingLossFact,
    ClearanceFact,
    CrucibleRule,
    InvestmentFact,
    Pose,
    PowderRule,
    SprueRule,
    TreeFigures,
    TreePiece,
)
from ringwright.terms.workshop import Casting, Crucible, Flask, Habits

_MOST_IN_A_TIER = 8
_DUST_MM3 = 1e-6
_CORNERS = 1.002
"""The corners of a polygon stand out this far over the circle of the same area."""


@dataclass(frozen=True, kw_only=True)
class _Sized:
    """The sprue, and what it is measured against."""

    diameter_mm: float
    needed_mm: float
    piece_modulus_mm: float
    thickest_mm: float
    heaviest_at: Point
    heaviest_piece: str


@dataclass(frozen=True, eq=False)
class _Room:
    """A way to hang the pieces and the flask for it: of the shop, or the least one that would do."""

    hung: Hung
    flask: Flask | None
    diameter_mm: float
    height_mm: float
    shortened: bool


@dataclass(frozen=True, eq=False)
class _Solid:
    """The tree as one solid with the rim at z = 0, and its volumes."""

    tree: Mesh
    tip_mm: float
    cone_mm: float
    cone_radius_mm: float
    sprues_mm3: float
    button_mm3: float


@dataclass(frozen=True, kw_only=True)
class _Needs:
    """Clearances and the button's form, read from the facts once."""

    wall_mm: float
    end_mm: float
    button_share: float
    cone_deg: float
    freeboard_mm: float

    def cone(self, volume_mm3: float, tip_mm: float) -> tuple[float, float]:
        """Height and top radius of the button over this volume of pieces and sprues."""
        high = cone_height(self.button_share * volume_mm3, tip_mm, self.cone_deg)
        return high, tip_mm + high * math.tan(math.radians(self.cone_deg))

    def room(self, hung: Hung, pieces_mm3: float) -> tuple[float, float]:
        """Diameter and height of the least flask for it. The bars are counted whole, so it is on the safe side."""
        high, wide = self.cone(pieces_mm3 + sum(volume(bar) for bar in hung.bars), hung.tip_mm)
        across = 2 * (max(hung.radius_mm, wide * _CORNERS) + self.wall_mm)
        return across, self.freeboard_mm + high + hung.depth_mm + self.end_mm


def build(
    pieces: Sequence[TreePiece],
    *,
    alloy: Alloy,
    investment: InvestmentFact,
    melt_C: float,
    habits: Habits,
    flasks: Sequence[Flask],
    crucibles: Sequence[Crucible],
    casting: Casting,
    rules: Sequence[SprueRule],
    clearances: Sequence[ClearanceFact],
    losses: Sequence[CastingLossFact],
    crucible_rules: Sequence[CrucibleRule],
    powder_rules: Sequence[PowderRule],
    flask: str | None = None,
    progress: Progress = silent,
) -> Outcome[TreeFigures]:
    """The tree of the pieces in a flask of the workshop, with its investment, its charge and its crucible.

    Bodies: "tree", one closed solid (patterns, sprues, stem, button) in the flask's frame: z up as poured, the rim at
    z = 0 (see :class:`Pose`). Residuals: the clearances of that solid against those that were reckoned with.

    Raises :class:`BadInput` for no piece, a gate off the metal, an unknown flask, or a named flask that is too small
    (it names one that would do). Where no flask of the workshop will do, the figures are those of the least flask
    that would, ``flask`` is None and a remark halts.
    """
    if not pieces:
        raise bad("tree", "there is no piece to cast", "one pattern or more")
    named = _named(flask, flasks)
    progress(0.0, "heavy places of the pattern")
    studied = [study(p.pattern, p.hole_diameter_mm) for p in pieces]
    density = alloy.density_g_cm3.value / 1000.0
    length = _length(habits, alloy, rules)
    proposals = [
        propose_gates(p, mass_g=s.volume_mm3 * density, length_mm=length, rules=rules, studied=s)
        for p, s in zip(pieces, studied, strict=True)
    ]
    progress(0.4, "sprues and flask")
    longest = _rule(rules, _length_key(alloy)).most_mm or math.inf
    needs = _needs(habits, rules, clearances)
    sized = _sized(pieces, studied, habits, rules)
    parts = [
        Part(
            name=p.name,
            points=np.concatenate([s.mesh.vertices_mm, s.at]),
            tree=s.tree,
            gates=found.gates if len(pieces) == 1 else found.gates[:1],
            mass_g=s.volume_mm3 * density,
            own_gates=bool(p.gates_mm),
            single=found.single,
        )
        for p, s, found in zip(pieces, studied, proposals, strict=True)
    ]
    pieces_mm3 = sum(s.volume_mm3 for s in studied)
    room = _room(parts, pieces_mm3, _sizes(sized, length, longest, rules, clearances), needs, flasks, named, rules)
    progress(0.6, "the tree as one solid")
    keep = not any(found.in_hole for found in proposals)
    solid = _solid(pieces, room.hung, needs, pieces_mm3, keep_holes=keep)
    poses = tuple(
        Pose(piece=p.name, rotation=_rows(turn), shift_mm=_point(shift + np.array([0.0, 0.0, solid.tip_mm])))
        for p, turn, shift in zip(pieces, room.hung.rotations, room.hung.shifts, strict=True)
    )
    progress(0.9, "investment, charge and crucible")
    flask_volume = flask_cm3(room.diameter_mm, room.height_mm)
    slurry = mix(flask_volume - volume(solid.tree) / 1000.0, investment, habits.water_per_100)
    metal = charge(
        pieces_mm3, solid.sprues_mm3, solid.button_mm3, alloy, habits.melt_loss_percent, habits.weighing_step_g
    )
    crucible = crucible_for(crucibles, metal.melt_cm3, melt_C, alloy, crucible_rules)
    result = _figures(sized, room, solid, slurry, metal, poses, pieces_mm3, investment.key, melt_C, crucible)
    used_gates = [room.hung.gates] if len(pieces) == 1 else [(gate,) for gate in room.hung.gates]
    found = Found(
        result=result,
        unfed=tuple(place for s, gates in zip(studied, used_gates, strict=True) for place in cut_off(s, gates, rules)),
        alloy=alloy,
        investment=investment,
        habits=habits,
        casting=casting,
        crucibles=tuple(crucibles),
        flask=room.flask,
        proposals=tuple(proposals),
        needed_mm=sized.needed_mm,
        heaviest_at=sized.heaviest_at,
        heaviest_piece=sized.heaviest_piece,
        shortened=room.shortened,
        rules=tuple(rules),
        clearances=tuple(clearances),
        losses=tuple(losses),
        crucible_rules=tuple(crucible_rules),
        powder_rules=tuple(powder_rules),
    )
    residuals = _checked(pieces, solid.tree, result, needs)
    return Outcome("tree", result, remarks(found), bodies=(Body("tree", Role.TREE, solid.tree),), residuals=residuals)


def _named(name: str | None, flasks: Sequence[Flask]) -> Flask | None:
    if name is None:
        return None
    for one in flasks:
        if one.name == name:
            return one
    near = difflib.get_close_matches(name, [f.name for f in flasks], n=1, cutoff=0.4)
    known = ", ".join(f.name for f in flasks) or "none"
    raise bad(
        "tree.flask",
        f"the workshop has no flask '{name}'",
        f"did you mean '{near[0]}'?" if near else f"it has: {known}",
    )


def _free(clearances: Sequence[ClearanceFact], key: str) -> float:
    return used(clearances, key, "clearance").free_mm


def _rule(rules: Sequence[SprueRule], key: str) -> SprueRule:
    return used(rules, key, "sprue rule")


def _length_key(alloy: Alloy) -> str:
    return "length-platinum" if alloy.metal in ("platinum", "palladium") else "length"


def _length(habits: Habits, alloy: Alloy, rules: Sequence[SprueRule]) -> float:
    """The shop's usual length of a sprue; for platinum metals no longer than their rule allows."""
    if not habits.sprue_length_mm > 0:
        raise bad("habits.sprue_length", f"a sprue of {habits.sprue_length_mm} mm", "more than 0 mm, such as 10 mm")
    if _length_key(alloy) != "length":
        return min(habits.sprue_length_mm, _rule(rules, _length_key(alloy)).most_mm or habits.sprue_length_mm)
    return habits.sprue_length_mm


def _needs(habits: Habits, rules: Sequence[SprueRule], clearances: Sequence[ClearanceFact]) -> _Needs:
    if not habits.button_share > 0:
        raise bad("habits.button_share", f"a button of {habits.button_share} of the pieces", "above 0, such as 0.5")
    cone = _rule(rules, "button-cone")
    return _Needs(
        wall_mm=_free(clearances, "wall"),
        end_mm=_free(clearances, "end"),
        button_share=habits.button_share,
        cone_deg=cone.use_deg or 45.0,
        freeboard_mm=cone.use_mm or 0.0,
    )


def _sized(
    pieces: Sequence[TreePiece], studied: Sequence[Studied], habits: Habits, rules: Sequence[SprueRule]
) -> _Sized:
    """The sprue's diameter: by the modulus of the heaviest part, by its thickness, and never below the least."""
    moduli = [modulus_mm(s.mesh, s.heaviest_at, s.thickest_mm) for s in studied]
    heaviest = int(np.argmax(moduli))
    modulus, thickest = moduli[heaviest], max(s.thickest_mm for s in studied)
    test, width, step = _rule(rules, "modulus"), _rule(rules, "diameter"), _rule(rules, "step").use_mm or 0.1
    least = max(
        4.0 * (test.use_share or 1.0) * modulus,
        (width.use_share or 1.0) * thickest,
        _rule(rules, "least").least_mm or 0.0,
    )
    own = habits.sprue_diameter_mm
    if own is not None and not own > 0:
        raise bad("habits.sprue_diameter", f"a sprue of {own} mm", "above 0 mm, or leave it out")
    return _Sized(
        diameter_mm=own if own is not None else math.ceil(least / step - 1e-9) * step,
        needed_mm=4.0 * (test.least_share or 1.0) * modulus,
        piece_modulus_mm=modulus,
        thickest_mm=thickest,
        heaviest_at=_point(studied[heaviest].heaviest_at),
        heaviest_piece=pieces[heaviest].name,
    )


def _sizes(
    sized: _Sized,
    length_mm: float,
    longest_mm: float,
    rules: Sequence[SprueRule],
    clearances: Sequence[ClearanceFact],
) -> Sizes:
    trunk, between = _rule(rules, "trunk"), used(clearances, "between", "clearance")
    return Sizes(
        sprue_mm=sized.diameter_mm,
        length_mm=length_mm,
        least_fillet=_rule(rules, "fillet").least_share or 0.0,
        angle_deg=_rule(rules, "angle").use_deg or 45.0,
        fork_deg=_rule(rules, "angle").least_deg or 30.0,
        stem_length_mm=_rule(rules, "stem").use_mm or 0.0,
        trunk_least_mm=trunk.least_mm or 0.0,
        trunk_most_mm=trunk.most_mm or math.inf,
        between_mm=between.free_mm,
        clear_of_rim_mm=between.free_low_mm,
        longest_mm=max(length_mm, longest_mm),
    )


def _room(
    parts: Sequence[Part],
    pieces_mm3: float,
    sizes: Sizes,
    needs: _Needs,
    flasks: Sequence[Flask],
    named: Flask | None,
    rules: Sequence[SprueRule],
) -> _Room:
    """The smallest flask that takes the pieces in some way of hanging them; shorter sprues where nothing else helps."""
    least = min(sizes.length_mm, _rule(rules, "length").least_mm or sizes.length_mm)
    smallest_of: dict[float, tuple[float, Hung]] = {}
    for length in dict.fromkeys((sizes.length_mm, least)):
        fits = []
        for hung in _ways(parts, replace(sizes, length_mm=length)):
            across, high = needs.room(hung, pieces_mm3)
            size = flask_cm3(across, high)
            if length not in smallest_of or size < smallest_of[length][0]:
                smallest_of[length] = size, hung
            flask = smallest([named] if named is not None else flasks, across, high)
            if flask is not None:
                fits.append((flask_cm3(flask.diameter_mm, flask.height_mm), flask, hung))
        if fits:
            _, flask, hung = min(fits, key=lambda f: f[0])
            return _Room(hung, flask, flask.diameter_mm, flask.height_mm, length < sizes.length_mm)
    hung = smallest_of[sizes.length_mm if named is None else least][1]
    across, high = (math.ceil(x - 1e-9) for x in needs.room(hung, pieces_mm3))
    if named is None:
        return _Room(hung, None, across, high, shortened=False)
    other = smallest(flasks, across, high)
    raise bad(
        "tree.flask",
        f"the flask '{named.name}' ({named.diameter_mm:.0f} × {named.height_mm:.0f} mm) is too small: the tree needs "
        f"{across:.0f} × {high:.0f} mm",
        f"'{other.name}' of the workshop would do" if other else "the workshop has none that would do",
    )


def _ways(parts: Sequence[Part], sizes: Sizes) -> list[Hung]:
    if len(parts) == 1:
        return [_alone(parts[0], sizes)]
    ways = [on_trunk(parts, n, sizes) for n in range(1, min(len(parts), _MOST_IN_A_TIER) + 1)]
    found = [way for way in ways if way is not None]
    if not found:
        raise bad(
            "tree",
            f"{len(parts)} pieces do not hang on one trunk without touching",
            "gates on the outside of each piece, or a flask for each",
        )
    return found


def _alone(part: Part, sizes: Sizes) -> Hung:
    """One piece on all its gates; on the best single one where a fork to those proposed would touch or be too long."""
    way = on_one(part, sizes)
    if part.own_gates:
        if way is None:
            raise bad(
                f"tree.gates of {part.name}",
                f"no fork reaches its {len(part.gates)} gates without touching the piece",
                "gates that face away from each other by no more than a right angle, or one gate",
            )
        return way
    if (way is None or way.length_mm > sizes.longest_mm) and part.single is not None:
        way = on_one(replace(part, gates=(part.single,)), sizes)
    assert way is not None
    return way


def _finger(piece: TreePiece) -> Mesh:
    """The room of the finger in a piece, as long as the piece: no sprue stands in it."""
    low, high = bounds(piece.pattern)
    ends = (np.array([0.0, 0.0, low[2]]), np.array([0.0, 0.0, high[2]]))
    return frustum(*ends, piece.hole_diameter_mm / 2, piece.hole_diameter_mm / 2)


def _solid(pieces: Sequence[TreePiece], hung: Hung, needs: _Needs, pieces_mm3: float, *, keep_holes: bool) -> _Solid:
    """Patterns and bars united, the button on top of them by its share of their volume, the rim at z = 0."""
    import manifold3d

    moved = [p.pattern.moved(t, s) for p, t, s in zip(pieces, hung.rotations, hung.shifts, strict=True)]
    bars = manifold3d.Manifold.batch_boolean([to_manifold(bar) for bar in hung.bars], manifold3d.OpType.Add)
    if keep_holes:
        for p, turn, shift in zip(pieces, hung.rotations, hung.shifts, strict=True):
            bars = bars - to_manifold(_finger(p).moved(turn, shift))
    below = manifold3d.Manifold.batch_boolean([bars, *map(to_manifold, moved)], manifold3d.OpType.Add)
    # The topmost bar reaches into the button; that bit is the button's.
    feed_mm3 = float(below.volume()) - math.pi * hung.tip_mm**2 * INTO_BUTTON_MM
    high, wide = needs.cone(feed_mm3, hung.tip_mm)
    cone = to_manifold(frustum(np.zeros(3), np.array([0.0, 0.0, high]), hung.tip_mm, wide))
    tree = _without_dust(from_manifold(below + cone))
    tip = -(needs.freeboard_mm + high)
    return _Solid(
        tree=tree.moved(np.eye(3), np.array([0.0, 0.0, tip])),
        tip_mm=tip,
        cone_mm=high,
        cone_radius_mm=wide,
        sprues_mm3=feed_mm3 - pieces_mm3,
        button_mm3=volume(tree) - feed_mm3,
    )


def _without_dust(mesh: Mesh) -> Mesh:
    """The solid without the slivers of no volume that unions leave where surfaces nearly coincide."""
    label = shell_of_face(mesh)
    a, b, c = np.moveaxis(mesh.corners_mm, 1, 0)
    parts = np.bincount(label, weights=np.einsum("ij,ij->i", a, np.cross(b, c)) / 6)
    return part(mesh, np.abs(parts[label]) > _DUST_MM3)


def _figures(
    sized: _Sized,
    room: _Room,
    solid: _Solid,
    slurry: Mix,
    metal: Charge,
    poses: tuple[Pose, ...],
    pieces_mm3: float,
    investment: str,
    melt_C: float,
    crucible: Crucible | None,
) -> TreeFigures:
    low, high = bounds(solid.tree)
    radius = float(np.hypot(solid.tree.vertices_mm[:, 0], solid.tree.vertices_mm[:, 1]).max())
    hung = room.hung
    return TreeFigures(
        pieces=tuple(pose.piece for pose in poses),
        gates=hung.gates,
        poses=poses,
        heaviest_ball_mm=sized.thickest_mm,
        piece_modulus_mm=sized.piece_modulus_mm,
        sprue_modulus_mm=sized.diameter_mm / 4,
        sprue_diameter_mm=sized.diameter_mm,
        sprue_length_mm=hung.length_mm,
        fillet_mm=hung.fillet_mm,
        stem_diameter_mm=hung.stem_mm[0] if hung.stem_mm else None,
        stem_length_mm=hung.stem_mm[1] if hung.stem_mm else None,
        button_diameter_mm=2 * solid.cone_radius_mm,
        button_height_mm=solid.cone_mm,
        button_top_mm=float(-high[2]),
        tree_height_mm=float(high[2] - low[2]),
        tree_radius_mm=radius,
        flask=room.flask.name if room.flask else None,
        flask_diameter_mm=room.diameter_mm,
        flask_height_mm=room.height_mm,
        wall_clearance_mm=room.diameter_mm / 2 - radius,
        end_clearance_mm=room.height_mm + float(low[2]),
        between_clearance_mm=hung.between_mm,
        investment=investment,
        water_per_100=slurry.water_per_100,
        slurry_cm3=slurry.slurry_cm3,
        powder_net_g=slurry.powder_net_g,
        water_net_g=slurry.water_net_g,
        powder_g=slurry.powder_g,
        water_g=slurry.water_g,
        pieces_mm3=pieces_mm3,
        sprues_mm3=solid.sprues_mm3,
        button_mm3=solid.button_mm3,
        tree_mm3=volume(solid.tree),
        pieces_g=metal.pieces_g,
        sprues_g=metal.sprues_g,
        button_g=metal.button_g,
        loss_g=metal.loss_g,
        charge_g=metal.charge_g,
        melt_cm3=metal.melt_cm3,
        melt_C=melt_C,
        crucible=crucible.name if crucible else None,
    )


def _checked(pieces: Sequence[TreePiece], tree: Mesh, result: TreeFigures, needs: _Needs) -> tuple[Residual, ...]:
    """The solid that was made keeps the clearances, is closed, hangs together and has the volumes that were told."""
    loose = sum(volume(s) > 0 for s in shells(tree)) - 1
    were = sum(sum(volume(s) > 0 for s in shells(p.pattern)) - 1 for p in pieces)
    parts = result.pieces_mm3 + result.sprues_mm3 + result.button_mm3
    found = (
        Residual("clearance missing at the wall, mm", max(0.0, needs.wall_mm - result.wall_clearance_mm), 1e-6),
        Residual("clearance missing at the end, mm", max(0.0, needs.end_mm - result.end_clearance_mm), 1e-6),
        Residual("edges of the tree that are not closed", float(not is_closed(tree)), 0.0),
        Residual("solids that do not hang together", float(max(0, loose - were)), 0.0),
        Residual("volume of the tree less that of its parts, share", abs(result.tree_mm3 - parts) / parts, 1e-9),
        Residual(
            "button less its share of pieces and sprues, share",
            result.button_mm3 / ((result.pieces_mm3 + result.sprues_mm3) * needs.button_share) - 1.0,
            1e-3,
        ),
    )
    for one in found:
        if not abs(one.value) <= one.bound:
            raise ComputingFault(f"tree: {one.name} is {one.value:.4g}, bound {one.bound:.4g}")
    return found


def _point(v: Floats) -> Point:
    return float(v[0]), float(v[1]), float(v[2])


def _rows(turn: Floats) -> tuple[Point, Point, Point]:
    return _point(turn[0]), _point(turn[1]), _point(turn[2])
