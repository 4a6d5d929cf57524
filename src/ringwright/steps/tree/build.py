"""The step's verb: from patterns to the tree in its flask, its mould and its charge."""

from __future__ import annotations

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
from ringwright.steps.tree.feeders import Fed, apart_mm, fed
from ringwright.steps.tree.feeders import solid as feeder_solid
from ringwright.steps.tree.gates import cut_off, propose_gates
from ringwright.steps.tree.heavy import Studied, study
from ringwright.steps.tree.layout import INTO_BUTTON_MM, Hung, Part
from ringwright.steps.tree.mould import Mix, flask_cm3, mix
from ringwright.steps.tree.remarks import Found, remarks
from ringwright.steps.tree.room import Room, named_flask, room_for
from ringwright.steps.tree.shapes import frustum
from ringwright.steps.tree.sizing import (
    Needs,
    Sized,
    length_key,
    needs_of,
    point,
    rule_of,
    sized_by,
    sizes_of,
    usual_length,
)
from ringwright.steps.tree.ways import as_led, ways_of
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
    Way,
)
from ringwright.terms.workshop import Casting, Crucible, Flask, Habits

_DUST_MM3 = 1e-6
_TOUCH = 0.925
"""The feet of a sprue may come so much nearer to what stands beside it, as a share of its diameter."""


@dataclass(frozen=True, eq=False)
class _Solid:
    """The tree as one solid with the rim at z = 0, and its volumes."""

    tree: Mesh
    tip_mm: float
    cone_mm: float
    cone_radius_mm: float
    sprues_mm3: float
    button_mm3: float
    feeders_mm3: float = 0.0


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
    way: Way | None = None,
    studied: Sequence[Studied] | None = None,
    progress: Progress = silent,
) -> Outcome[TreeFigures]:
    """The tree of the pieces in a flask of the workshop, with its investment, its charge and its crucible.

    Bodies: "tree", one closed solid (patterns, sprues, feeders, stem, button) in the flask's frame: z up as poured, the
    rim at z = 0 (see :class:`Pose`). Residuals: the clearances of that solid against those that were reckoned with.

    ``way`` leads the metal into the one piece so, and in no other way; ``studied`` are the pieces' heavy places where
    :func:`study` has found them before.

    Raises :class:`BadInput` for no piece, a gate or feeder off the metal or in each other's way, an unknown flask, or a
    named flask that is too small (it names one that would do). Where no flask of the workshop will do, the figures are
    those of the least flask that would, ``flask`` is None and a remark halts.
    """
    if not pieces:
        raise bad("tree", "there is no piece to cast", "one pattern or more")
    named = named_flask(flask, flasks)
    habits = _with_sprue(habits, way)
    progress(0.0, "heavy places of the pattern")
    studied = [study(p.pattern, p.hole_diameter_mm) for p in pieces] if studied is None else list(studied)
    density = alloy.density_g_cm3.value / 1000.0
    length = usual_length(habits, alloy, rules)
    feeding = [fed(p, s, way, alloy, rules) for p, s in zip(pieces, studied, strict=True)]
    free = used(clearances, "between", "clearance").free_low_mm
    proposals = [
        propose_gates(
            p,
            mass_g=s.volume_mm3 * density,
            length_mm=length,
            rules=rules,
            studied=s,
            feeders=f.feeders,
            free_mm=free,
        )
        if way is None
        else as_led(p, s, way)
        for p, s, f in zip(pieces, studied, feeding, strict=True)
    ]
    progress(0.4, "sprues and flask")
    longest = rule_of(rules, length_key(alloy)).most_mm or math.inf
    needs = needs_of(habits, rules, clearances)
    sized = sized_by(pieces, studied, habits, rules)
    lumps = [tuple(feeder_solid(one) for one in f.feeders) for f in feeding]
    parts = [
        Part(
            name=p.name,
            points=np.concatenate([s.mesh.vertices_mm, s.at, *(lump.vertices_mm for lump in mine)]),
            tree=s.tree,
            gates=found.gates if len(pieces) == 1 else found.gates[:1],
            mass_g=s.volume_mm3 * density,
            own_gates=way is not None or bool(p.gates_mm),
            single=found.single,
            feeders=tuple((one.centre_mm, one.diameter_mm / 2 + free) for one in f.feeders),
        )
        for p, s, found, f, mine in zip(pieces, studied, proposals, feeding, lumps, strict=True)
    ]
    pieces_mm3 = sum(s.volume_mm3 for s in studied)
    feeders_mm3 = sum(one.volume_mm3 for f in feeding for one in f.feeders)
    sizes = sizes_of(sized, length, longest, rules, clearances)
    room = room_for(parts, pieces_mm3 + feeders_mm3, sizes, needs, flasks, named, rules)
    _clear_of_sprues(feeding, room.hung, free - (1 - _TOUCH) * sized.diameter_mm)
    progress(0.6, "the tree as one solid")
    keep = not any(found.in_hole for found in proposals)
    solid = _solid(pieces, lumps, room.hung, needs, pieces_mm3, feeders_mm3, keep_holes=keep)
    poses = tuple(
        Pose(piece=p.name, rotation=_rows(turn), shift_mm=point(shift + np.array([0.0, 0.0, solid.tip_mm])))
        for p, turn, shift in zip(pieces, room.hung.rotations, room.hung.shifts, strict=True)
    )
    progress(0.9, "investment, charge and crucible")
    flask_volume = flask_cm3(room.diameter_mm, room.height_mm)
    slurry = mix(flask_volume - volume(solid.tree) / 1000.0, investment, habits.water_per_100)
    metal = charge(
        pieces_mm3,
        solid.sprues_mm3,
        solid.button_mm3,
        alloy,
        habits.melt_loss_percent,
        habits.weighing_step_g,
        feeders_mm3,
    )
    crucible = crucible_for(crucibles, metal.melt_cm3, melt_C, alloy, crucible_rules)
    result = _figures(sized, room, solid, slurry, metal, poses, pieces_mm3, investment.key, melt_C, crucible)
    result = replace(result, feeders=tuple(one for f in feeding for one in f.feeders))
    if len(pieces) == 1 and way is None:
        kept = replace(proposals[0], gates=room.hung.gates)
        result = replace(result, ways=ways_of(pieces[0].name, studied[0], kept, rules, feeding[0].feeders))
    used_gates = [room.hung.gates] if len(pieces) == 1 else [(gate,) for gate in room.hung.gates]
    found = Found(
        result=result,
        unfed=tuple(
            place
            for s, gates, f in zip(studied, used_gates, feeding, strict=True)
            for place in cut_off(s, [*gates, *f.feeders], rules)
        ),
        feeding=tuple(feeding),
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


def _with_sprue(habits: Habits, way: Way | None) -> Habits:
    """The habits with the sprue of a way, where it has one."""
    if way is None:
        return habits
    own, length = way.sprue_diameter_mm, way.sprue_length_mm
    return replace(
        habits,
        sprue_diameter_mm=habits.sprue_diameter_mm if own is None else own,
        sprue_length_mm=habits.sprue_length_mm if length is None else length,
    )


def _finger(piece: TreePiece) -> Mesh:
    """The room of the finger in a piece, as long as the piece: no sprue stands in it."""
    low, high = bounds(piece.pattern)
    ends = (np.array([0.0, 0.0, low[2]]), np.array([0.0, 0.0, high[2]]))
    return frustum(*ends, piece.hole_diameter_mm / 2, piece.hole_diameter_mm / 2)


def _clear_of_sprues(feeding: Sequence[Fed], hung: Hung, free_mm: float) -> None:
    """Raises :class:`BadInput` for a feeder that leaves too little mould to a sprue."""
    for f, turn, shift in zip(feeding, hung.rotations, hung.shifts, strict=True):
        for n, one in enumerate(f.feeders, start=1):
            bars = [bar.moved(turn.T, -turn.T @ shift) for bar in hung.bars]
            apart = apart_mm(one, bars)
            if apart < free_mm:
                raise bad(
                    f"tree.feeders[{n}]",
                    f"feeder {n} of {one.piece} comes within {max(apart, 0.0):.1f} mm of a sprue",
                    f"a place that leaves {free_mm:.1f} mm of mould between them, or another gate",
                )


def _solid(
    pieces: Sequence[TreePiece],
    lumps: Sequence[Sequence[Mesh]],
    hung: Hung,
    needs: Needs,
    pieces_mm3: float,
    feeders_mm3: float,
    *,
    keep_holes: bool,
) -> _Solid:
    """Patterns, feeders and bars united, the button on top by its share of their volume, the rim at z = 0."""
    import manifold3d

    moved = [
        one.moved(t, s)
        for p, mine, t, s in zip(pieces, lumps, hung.rotations, hung.shifts, strict=True)
        for one in (p.pattern, *mine)
    ]
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
        sprues_mm3=feed_mm3 - pieces_mm3 - feeders_mm3,
        feeders_mm3=feeders_mm3,
        button_mm3=volume(tree) - feed_mm3,
    )


def _without_dust(mesh: Mesh) -> Mesh:
    """The solid without the slivers of no volume that unions leave where surfaces nearly coincide."""
    label = shell_of_face(mesh)
    a, b, c = np.moveaxis(mesh.corners_mm, 1, 0)
    parts = np.bincount(label, weights=np.einsum("ij,ij->i", a, np.cross(b, c)) / 6)
    return part(mesh, np.abs(parts[label]) > _DUST_MM3)


def _figures(
    sized: Sized,
    room: Room,
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
        feeders_mm3=solid.feeders_mm3,
        feeders_g=metal.feeders_g,
    )


def _checked(pieces: Sequence[TreePiece], tree: Mesh, result: TreeFigures, needs: Needs) -> tuple[Residual, ...]:
    """The solid that was made keeps the clearances, is closed, hangs together and has the volumes that were told."""
    loose = sum(volume(s) > 0 for s in shells(tree)) - 1
    were = sum(sum(volume(s) > 0 for s in shells(p.pattern)) - 1 for p in pieces)
    feed = result.pieces_mm3 + result.sprues_mm3 + result.feeders_mm3
    parts = feed + result.button_mm3
    found = (
        Residual("clearance missing at the wall, mm", max(0.0, needs.wall_mm - result.wall_clearance_mm), 1e-6),
        Residual("clearance missing at the end, mm", max(0.0, needs.end_mm - result.end_clearance_mm), 1e-6),
        Residual("edges of the tree that are not closed", float(not is_closed(tree)), 0.0),
        Residual("solids that do not hang together", float(max(0, loose - were)), 0.0),
        Residual("volume of the tree less that of its parts, share", abs(result.tree_mm3 - parts) / parts, 1e-9),
        Residual(
            "button less its share of pieces and sprues, share",
            result.button_mm3 / (feed * needs.button_share) - 1.0,
            1e-3,
        ),
    )
    for one in found:
        if not abs(one.value) <= one.bound:
            raise ComputingFault(f"tree: {one.name} is {one.value:.4g}, bound {one.bound:.4g}")
    return found


def _rows(turn: Floats) -> tuple[Point, Point, Point]:
    return point(turn[0]), point(turn[1]), point(turn[2])
