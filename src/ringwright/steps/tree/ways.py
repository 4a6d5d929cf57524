"""Other ways of leading the metal into a ring, to be judged beside the proposed one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ringwright.steps.tree.feeders import feeder_at, stands_clear
from ringwright.steps.tree.gates import Places, Proposal, Regions, cut_off, gate_at, gate_on, propose_gates, regions_of
from ringwright.steps.tree.heavy import Studied, about
from ringwright.steps.tree.sizing import length_key, rule_mm, rule_of
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Floats, Ints
from ringwright.terms.facts import used
from ringwright.terms.remark import Point
from ringwright.terms.tree import ClearanceFact, Feeder, Gate, SprueRule, TreeFigures, TreePiece, Way
from ringwright.terms.workshop import Habits

_SAME_MM = 2.0
"""Gates this near to each other are the same way."""

_UNEVEN = 0.5
"""What counts for a millimetre by which the second gate of a pair is off the first one's mirror image."""

_REACH = 1.5
"""What feeds a heavy place sits within this many of its balls."""

_AS_HEAVY = 0.8
"""There the metal is this heavy, against the heavy place."""

_MOST_TRIED = 6
_APART_MM = 1.0


@dataclass(frozen=True)
class _Sector:
    """A part of the ring by the angle from its head."""

    words: str
    pair: str
    low_deg: float
    high_deg: float


_SECTORS = (
    _Sector("the bottom of the shank", "the bottom, left and right", 135.0, 180.0),
    _Sector("the side of the shank", "both sides of the shank", 75.0, 135.0),
    _Sector("a shoulder", "both shoulders", 30.0, 75.0),
    _Sector("the head", "the head, left and right", 0.0, 30.0),
)


def where(gates: Sequence[Gate], feeders: Sequence[Feeder] = ()) -> str:
    """Where the gates of one piece stand, and its feeders, in words."""
    if feeders:
        told = ", ".join(f"a feeder at {_sector(f.point_mm[0], f.point_mm[1]).words}" for f in feeders)
        return f"{where(gates)}, and {told}"
    if not gates:
        return "no gate"
    sectors = [_sector(g.point_mm[0], g.point_mm[1]) for g in gates]
    if len(gates) == 1:
        return f"one gate at {sectors[0].words}"
    if len(gates) == 2 and sectors[0] is sectors[1] and gates[0].point_mm[0] * gates[1].point_mm[0] < 0:
        return f"two gates at {sectors[0].pair}"
    return f"{len(gates)} gates: {', '.join(s.words for s in sectors)}"


def _sector(x: float, y: float) -> _Sector:
    turned = abs(math.degrees(math.atan2(x, y)))
    return next(s for s in _SECTORS if s.low_deg <= turned <= s.high_deg)


def ways_of(
    name: str, studied: Studied, proposal: Proposal, rules: Sequence[SprueRule], feeders: Sequence[Feeder] = ()
) -> tuple[Way, ...]:
    """The proposed gates, and others: the best single gate of each part of the ring, and the best even pair of it.

    What counts as much as a mark on the face of the head is none. The maker's own gates stay alone: they are
    not searched. The maker's own ``feeders`` are part of every way.
    """
    places, regions = proposal.places, regions_of(studied, rules)
    if places is None:
        return (_way(studied, None, proposal.gates, feeders, rules, regions),)
    own = _way(studied, places, proposal.gates, feeders, rules, regions)
    most = used(rules, "mark-face", "sprue rule").counts or math.inf
    found = [own]
    for numbers in (*_singles(studied, places, most), *_pairs(studied, places, most, rules)):
        gates = tuple(gate_on(name, studied, n, "tried beside the proposal") for n in numbers)
        if any(_same(gates, other.gates_mm) for other in found) or _counts(studied, places, gates) >= most:
            continue
        found.append(_way(studied, places, gates, feeders, rules, regions))
    return tuple(found)


def helped(
    way: Way,
    figures: TreeFigures,
    piece: TreePiece,
    studied: Studied,
    pore_mm: Point,
    alloy: Alloy,
    rules: Sequence[SprueRule],
    clearances: Sequence[ClearanceFact],
) -> tuple[Way, ...]:
    """The way with a blind feeder at the heavy place about a pore, and the way with one more gate there.

    A place for either is one where a gate may be, near the heavy place, with metal nearly as heavy behind it; what
    counts as much as a mark on the face of the head is none. Gates that the maker gave get no help that he did not
    ask for. ``figures`` are those of the tree with the way.
    """
    if piece.gates_mm:
        return ()
    own = [gate_at(piece.name, studied, np.array(p), way.what) for p in way.gates_mm]
    had = [feeder_at(piece.name, studied, np.array(p), alloy, rules, way.what) for p in way.feeders_mm]
    free = used(clearances, "between", "clearance").free_low_mm
    places = propose_gates(
        piece,
        mass_g=figures.pieces_g,
        length_mm=figures.sprue_length_mm,
        rules=rules,
        studied=studied,
        feeders=had,
        free_mm=free,
    ).places
    assert places is not None
    regions = regions_of(studied, rules)
    found: list[Way] = []
    for gate in _near(piece.name, studied, places, pore_mm, rules):
        one = feeder_at(piece.name, studied, np.array(gate.point_mm), alloy, rules, "searched")
        wide = (one.diameter_mm + figures.sprue_diameter_mm) / 2 + figures.fillet_mm + free
        if stands_clear(studied, one) and all(math.dist(g.point_mm, one.centre_mm) > wide for g in own):
            found.append(_way(studied, places, own, [*had, one], rules, regions))
            break
    for gate in _near(piece.name, studied, places, pore_mm, rules):
        if all(math.dist(g.point_mm, gate.point_mm) > figures.sprue_diameter_mm for g in own):
            found.append(_way(studied, places, [*own, gate], had, rules, regions))
            break
    return tuple(found)


def _near(name: str, studied: Studied, places: Places, pore_mm: Point, rules: Sequence[SprueRule]) -> tuple[Gate, ...]:
    """The best few places for what feeds the heavy place about a pore, apart from each other."""
    centre, size = about(studied, np.array(pore_mm), studied.thickest_mm / 2)
    most = used(rules, "mark-face", "sprue rule").counts or math.inf
    at, balls = studied.at[places.numbers], studied.balls_mm[places.numbers]
    close = np.linalg.norm(at - centre, axis=1) < _REACH * size
    may = np.flatnonzero(close & (balls > _AS_HEAVY * size) & (places.cost < most))
    found: list[Gate] = []
    for n in may[np.argsort(places.cost[may], kind="stable")]:
        if all(np.linalg.norm(at[n] - np.array(g.point_mm)) > _APART_MM for g in found):
            found.append(gate_on(name, studied, int(places.numbers[n]), "heavy place that the other gates do not feed"))
        if len(found) == _MOST_TRIED:
            break
    return tuple(found)


def as_led(piece: TreePiece, studied: Studied, way: Way) -> Proposal:
    """The gates of a way as a proposal; no other way stands in for it."""
    gates = tuple(gate_at(piece.name, studied, np.array(p), f"searched: {way.what}") for p in way.gates_mm)
    return Proposal(gates, len(gates))


def sprues_of(
    way: Way, figures: TreeFigures, habits: Habits, alloy: Alloy, rules: Sequence[SprueRule]
) -> tuple[Way, ...]:
    """The same gates with other sprues: thicker, shorter, both; and by the rule where the shop's usual one is another.

    ``figures`` are those of the tree with the way's own sprue.
    """
    step = rule_of(rules, "step").use_mm or 0.1
    own, length = figures.sprue_diameter_mm, figures.sprue_length_mm
    thick = math.ceil(own * (rule_of(rules, "diameter").use_share or 1.0) / step - 1e-9) * step
    short = rule_of(rules, length_key(alloy)).least_mm or length
    tried = [(thick, length), (own, short), (thick, short)]
    if habits.sprue_diameter_mm is not None:
        tried.insert(0, (rule_mm(figures.piece_modulus_mm, figures.heaviest_ball_mm, rules), length))
    return tuple(
        replace(
            way,
            what=f"{way.what}, sprue {diameter:.1f} mm wide and {long:.0f} mm long",
            sprue_diameter_mm=diameter,
            sprue_length_mm=long,
        )
        for diameter, long in dict.fromkeys(tried)
        if (diameter, long) != (own, length)
    )


def _way(
    studied: Studied,
    places: Places | None,
    gates: Sequence[Gate],
    feeders: Sequence[Feeder],
    rules: Sequence[SprueRule],
    regions: Regions,
) -> Way:
    every: list[Gate | Feeder] = [*gates, *feeders]
    return Way(
        what=where(gates, feeders),
        gates_mm=tuple(g.point_mm for g in gates),
        counts=0.0 if places is None else _counts(studied, places, every),
        unfed_ball_mm=max((ball for _, ball in cut_off(studied, every, rules, regions)), default=0.0),
        feeders_mm=tuple(f.point_mm for f in feeders),
    )


def _counts(studied: Studied, places: Places, gates: Sequence[Gate | Feeder]) -> float:
    """What counts against the marks of gates: that of the nearest place of each."""
    at = studied.at[places.numbers]
    return float(sum(places.cost[int(np.argmin(np.linalg.norm(at - np.array(g.point_mm), axis=1)))] for g in gates))


def _same(gates: Sequence[Gate], points_mm: Sequence[Point]) -> bool:
    if len(gates) != len(points_mm):
        return False
    return all(min(math.dist(g.point_mm, p) for p in points_mm) < _SAME_MM for g in gates)


def _turned(studied: Studied, places: Places) -> tuple[Floats, Floats]:
    """Places in the ring's frame, and their angle from the head."""
    at = studied.at[places.numbers]
    return at, np.abs(np.degrees(np.arctan2(at[:, 0], at[:, 1])))


def _singles(studied: Studied, places: Places, most: float) -> list[tuple[int, ...]]:
    """The best place of each part of the ring; in the middle of the ring's halves counts as a tie-break."""
    at, turned = _turned(studied, places)
    aside = places.cost + 1e-3 * np.abs(at[:, 0])
    found: list[tuple[int, ...]] = []
    for sector in _SECTORS:
        mine: Ints = np.flatnonzero((turned >= sector.low_deg) & (turned <= sector.high_deg) & (places.cost < most))
        if len(mine):
            found.append((int(places.numbers[mine[np.argmin(aside[mine])]]),))
    return found


def _pairs(studied: Studied, places: Places, most: float, rules: Sequence[SprueRule]) -> list[tuple[int, ...]]:
    """The best even pair of each part of the ring whose gates face apart as far as two gates of one fork may."""
    spread = used(rules, "spread", "sprue rule")
    least, widest = spread.least_deg or 0.0, spread.most_deg or 180.0
    at, turned = _turned(studied, places)
    out = studied.normals[places.numbers]
    found: list[tuple[int, ...]] = []
    for sector in _SECTORS:
        good = (turned >= sector.low_deg) & (turned <= sector.high_deg) & (places.cost < most)
        right, left = np.flatnonzero(good & (at[:, 0] > 0)), np.flatnonzero(good & (at[:, 0] < 0))
        if not (len(right) and len(left)):
            continue
        mirror = at[right] * np.array([-1.0, 1.0, 1.0])
        off = np.linalg.norm(mirror[:, None, :] - at[left][None, :, :], axis=2)
        cost = places.cost[right][:, None] + places.cost[left][None, :] + _UNEVEN * off
        apart = np.degrees(np.arccos(np.clip(out[right] @ out[left].T, -1.0, 1.0)))
        cost = np.where((apart >= least) & (apart <= widest), cost, np.inf)
        i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
        if np.isfinite(cost[i, j]):
            found.append((int(places.numbers[right[i]]), int(places.numbers[left[j]])))
    return found
