"""Where the metal is led in: at the heaviest places that can be reached and filed clean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringwright.science.surface import Surface, surface
from ringwright.science.voxels import Bools
from ringwright.steps.tree.heavy import Studied, study
from ringwright.terms.body import Floats, Ints
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.remark import Point
from ringwright.terms.tree import Feeder, Gate, SprueRule, TreePiece

ON_METAL_MM = 0.6
"""A maker's gate may lie this far off the pattern: stock and scale have moved its surface."""

_SAMPLES = 12
_RIM = 12
_MOST_TRIED = 300
_DRAWN_MM = 1.2
_LEAN = 0.1
_WHY = "heaviest place that is reached and filed clean"


@dataclass(frozen=True, eq=False)
class Places:
    """Where a gate may be (numbers of the studied places), and what counts against each."""

    numbers: Ints
    cost: Floats


@dataclass(frozen=True, eq=False)
class Proposal:
    """The gates of one piece, and what is to be said of them.

    ``wanted`` is how many gates the rule asks for, ``single`` the best gate alone. ``in_hole`` and ``at_stone`` are the
    numbers of the maker's gates that lie there, ``places`` all where a gate may be (None where the maker gave them).
    """

    gates: tuple[Gate, ...]
    wanted: int
    in_hole: tuple[int, ...] = ()
    at_stone: tuple[int, ...] = ()
    single: Gate | None = None
    places: Places | None = None


def propose_gates(
    piece: TreePiece,
    *,
    mass_g: float,
    length_mm: float,
    rules: Sequence[SprueRule],
    studied: Studied | None = None,
    feeders: Sequence[Feeder] = (),
    free_mm: float = 0.0,
) -> Proposal:
    """The gates of a piece: the maker's own where it has them, else proposed.

    ``mass_g`` is the casting's mass, ``length_mm`` the sprue's. A gate is proposed where the ball in the metal is
    nearly the largest, the sprue reaches it in a straight line, no stone and no finger hole is touched, and the mark
    is least in the way. Wide or heavy pieces get two. A heavy place whose way from the gates narrows gets one of its
    own where one can stand; else it is told in ``cut_off``. What ``feeders`` feed needs no gate, and every gate
    leaves ``free_mm`` of mould to them.

    Raises :class:`BadInput` for a maker's gate that is not on the metal.
    """
    studied = studied or study(piece.pattern, piece.hole_diameter_mm)
    stones = [surface(stone) for stone in piece.stones]
    if piece.gates_mm:
        return _makers(piece, studied, stones, rules)
    taken = [(np.array(one.centre_mm), one.diameter_mm / 2 + free_mm) for one in feeders]
    places = _places(piece, studied, stones, taken, length_mm, rules)
    if not len(places.numbers):
        raise BadInput(
            Mistake(
                f"pattern of {piece.name}",
                "no place of it can be reached by a straight sprue",
                "give gates in the commission ([tree] gates), or open the shape",
            )
        )
    wanted = _wanted(studied, mass_g, rules)
    one, several = _chosen(studied, places, wanted, rules)
    chosen = [gate_on(piece.name, studied, n, _WHY) for n in several]
    gates = _fed(piece.name, studied, places, chosen, feeders, rules)
    single = gate_on(piece.name, studied, one, _WHY)
    return Proposal(tuple(gates), wanted, single=single, places=places)


def _rule(rules: Sequence[SprueRule], key: str) -> SprueRule:
    return used(rules, key, "sprue rule")


def _share(rules: Sequence[SprueRule], key: str) -> float:
    return _rule(rules, key).use_share or 0.0


def _wanted(studied: Studied, mass_g: float, rules: Sequence[SprueRule]) -> int:
    rule = _rule(rules, "number")
    assert rule.up_to_g is not None and rule.up_to_width_mm is not None
    return 2 if mass_g > rule.up_to_g or studied.width_mm > rule.up_to_width_mm else 1


def _makers(piece: TreePiece, studied: Studied, stones: Sequence[Surface], rules: Sequence[SprueRule]) -> Proposal:
    points = np.array(piece.gates_mm, dtype=np.float64)
    off = studied.tree.distance_mm(points)
    faults = [
        Mistake(
            f"tree.gates[{n}]",
            f"gate {n} of {piece.name} lies {far:.1f} mm off the metal",
            "a point on the surface of the ring, in the coordinates of the model",
        )
        for n, far in enumerate(off, start=1)
        if not far <= ON_METAL_MM
    ]
    if faults:
        raise BadInput(*faults)
    gates = tuple(gate_at(piece.name, studied, p, "the maker's own") for p in points)
    least = _rule(rules, "stone").least_mm or 0.0
    near = tuple(n for n, p in enumerate(points) if any(s.distance_mm(p[None])[0] < least for s in stones))
    hole = tuple(n for n, p in enumerate(points) if studied.hole[_nearest(studied, p)])
    return Proposal(gates, len(gates), hole, near)


def _nearest(studied: Studied, point_mm: Floats) -> int:
    return int(np.argmin(np.linalg.norm(studied.at - point_mm, axis=1)))


def gate_on(name: str, studied: Studied, number: int, why: str) -> Gate:
    """A gate at a place, drawn to the middle of the band and of the ring where that is near and as heavy."""
    at, normal, ball = studied.at[number], studied.normals[number], studied.balls_mm[number]
    for better in (np.array([0.0, at[1], studied.middle_mm]), np.array([at[0], at[1], studied.middle_mm])):
        if np.linalg.norm(better - at) > _DRAWN_MM:
            continue
        foot, out = studied.foot(better)
        if out @ normal > 0.9 and studied.ball_behind(foot[None], out[None])[0] >= 0.97 * ball:
            return gate_at(name, studied, foot, why)
    return gate_at(name, studied, at, why)


def gate_at(name: str, studied: Studied, point_mm: Floats, why: str) -> Gate:
    """A gate at a point on or near the surface; its direction is the mean normal of what the sprue will cover,
    a lean of less than six degrees made straight."""
    foot, out = studied.foot(point_mm)
    out = np.where(np.abs(out) < _LEAN, 0.0, out)
    out = out / np.linalg.norm(out)
    ball = float(studied.ball_behind(foot[None], out[None])[0])
    return Gate(piece=name, point_mm=_point(foot), outward=_point(out), ball_mm=ball, why=why)


def _point(v: Floats) -> Point:
    return float(v[0]), float(v[1]), float(v[2])


def _places(
    piece: TreePiece,
    studied: Studied,
    stones: Sequence[Surface],
    taken: Sequence[tuple[Floats, float]],
    length_mm: float,
    rules: Sequence[SprueRule],
) -> Places:
    """Where a gate may be: on a surface, not in the hole, clear of stones and of the balls that are ``taken``, reached
    in a straight line."""
    numbers = np.flatnonzero(studied.flat & ~studied.hole & (studied.balls_mm > 0.3 * studied.thickest_mm))
    least = _rule(rules, "stone").least_mm or 0.0
    for stone in stones:
        numbers = numbers[stone.distance_mm(studied.at[numbers]) >= least]
    radius = _share(rules, "diameter") * studied.thickest_mm / 2
    for middle, wide in taken:
        numbers = numbers[np.linalg.norm(studied.at[numbers] - middle, axis=1) > wide + 2 * radius]
    reached, above = _reach(studied, numbers, radius, length_mm)
    numbers, above = numbers[reached], above[reached]
    over = _overhang(studied, numbers, radius)
    return Places(numbers, _cost(piece, studied, numbers, above / length_mm, over, rules))


def _reach(studied: Studied, numbers: Ints, radius_mm: float, length_mm: float) -> tuple[Bools, Floats]:
    """Whether a sprue of that radius and length stands free on each place, and how far the piece rises above it."""
    at, out = studied.at[numbers], studied.normals[numbers]
    steps = np.linspace(0.4 * radius_mm, length_mm, _SAMPLES)
    points = at[:, None, :] + steps[None, :, None] * out[:, None, :]
    away = studied.tree.distance_mm(points.reshape(-1, 3), 2 * radius_mm).reshape(len(numbers), _SAMPLES)
    free = (away >= 0.85 * np.minimum(steps, radius_mm)).all(axis=1)
    above = (studied.at @ out.T).max(axis=0, initial=-np.inf) - np.einsum("ij,ij->i", at, out)
    return free & (above < length_mm), np.maximum(above, 0.0)


def _overhang(studied: Studied, numbers: Ints, radius_mm: float) -> Floats:
    """What share of a sprue's rim on each place stands beside the metal."""
    at, out = studied.at[numbers], studied.normals[numbers]
    x = np.cross(out, np.where(np.abs(out[:, :1]) < 0.9, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]]))
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    y = np.cross(out, x)
    turn = (2 * np.pi * np.arange(_RIM) / _RIM)[None, :, None]
    rim = at[:, None, :] + radius_mm * (np.cos(turn) * x[:, None, :] + np.sin(turn) * y[:, None, :])
    away = studied.tree.distance_mm(rim.reshape(-1, 3), radius_mm).reshape(len(numbers), _RIM)
    share: Floats = (away > 0.35 * radius_mm).mean(axis=1)
    return share


def _cost(
    piece: TreePiece, studied: Studied, numbers: Ints, above: Floats, over: Floats, rules: Sequence[SprueRule]
) -> Floats:
    """What counts against each place: thin metal, marks on the head, at edges and on sides, a rim beside the metal,
    and a piece that rises above it."""
    at, out = studied.at[numbers], studied.normals[numbers]
    away = np.maximum(np.hypot(at[:, 0], at[:, 1]), 1e-9)
    outward = (at[:, 0] * out[:, 0] + at[:, 1] * out[:, 1]) / away
    head = at[:, 1] > piece.hole_diameter_mm / 2
    face = head & (out[:, 1] > 0.7)
    half = max(studied.width_mm / 2, 1e-9)
    aside = np.minimum(np.abs(at[:, 2] - studied.middle_mm) / half, 2.0) * np.clip(outward, 0.0, 1.0)
    counted = {
        "mark-face": face,
        "mark-head": head & ~face,
        "mark-edge": aside,
        "mark-slope": 1.0 - outward,
        "mark-top": (1.0 + at[:, 1] / away) / 2,
        "mark-below": above,
        "mark-over": over,
        "mark-thin": np.clip(_share(rules, "heavy") - studied.balls_mm[numbers] / studied.thickest_mm, 0.0, 1.0),
    }
    cost: Floats = np.zeros(len(numbers))
    for key, share in counted.items():
        cost += (_rule(rules, key).counts or 0.0) * share
    return cost


def _chosen(studied: Studied, places: Places, wanted: int, rules: Sequence[SprueRule]) -> tuple[int, list[int]]:
    """The best single gate, and it alone or two that one fork can serve, among the heavy places."""
    heavy = _heavy(studied, places, _share(rules, "peak"))
    aside = (_rule(rules, "mark-aside").counts or 0.0) / np.abs(studied.at[:, 0]).max()
    x = studied.at[places.numbers, 0]
    one = int(places.numbers[heavy[np.argmin(places.cost[heavy] + aside * np.abs(x[heavy]))]])
    if wanted == 1:
        return one, [one]
    spread = _rule(rules, "spread")
    assert spread.least_deg is not None and spread.use_deg is not None and spread.most_deg is not None
    heavy = heavy[np.argsort(places.cost[heavy], kind="stable")[:_MOST_TRIED]]
    out = studied.normals[places.numbers[heavy]]
    angle = np.degrees(np.arccos(np.clip(out @ out.T, -1.0, 1.0)))
    cost = places.cost[heavy][:, None] + places.cost[heavy][None, :]
    cost = cost + np.abs(angle - spread.use_deg) / spread.use_deg
    cost += aside * np.abs(x[heavy][:, None] + x[heavy][None, :])
    cost[(angle < spread.least_deg) | (angle > spread.most_deg)] = np.inf
    best = int(np.argmin(cost))
    if not np.isfinite(cost.flat[best]):
        return one, [one]
    i, j = divmod(best, len(heavy))
    return one, [int(places.numbers[heavy[i]]), int(places.numbers[heavy[j]])]


def _heavy(studied: Studied, places: Places, share: float) -> Ints:
    """The places whose ball is at least that share of the largest; of the largest among them if none is."""
    balls = studied.balls_mm[places.numbers]
    heavy = np.flatnonzero(balls >= share * float(studied.ball_of_cell.max()))
    return heavy if len(heavy) else np.flatnonzero(balls >= share * balls.max())


def _fed(
    name: str,
    studied: Studied,
    places: Places,
    chosen: list[Gate],
    feeders: Sequence[Feeder],
    rules: Sequence[SprueRule],
) -> list[Gate]:
    """Adds a gate for each heavy place that is cut off, where one can stand."""
    most = int(_rule(rules, "number").most_gates or 1)
    regions = regions_of(studied, rules)
    widest = np.cos(np.radians(_rule(rules, "spread").most_deg or 90.0))
    left = cut_off(studied, [*chosen, *feeders], rules, regions)
    at, out = studied.at[places.numbers], studied.normals[places.numbers]
    while left and len(chosen) < most:
        point, size = left[0]
        may = np.linalg.norm(at - np.array(point), axis=1) < 1.5 * size
        may &= studied.balls_mm[places.numbers] > 0.8 * size
        for gate in chosen:
            may &= out @ np.array(gate.outward) > widest
        near = np.flatnonzero(may)
        if not len(near):
            break
        best = int(places.numbers[near[np.argmin(places.cost[near])]])
        more = [*chosen, gate_on(name, studied, best, "heavy place that the other gates do not feed")]
        after = cut_off(studied, [*more, *feeders], rules, regions)
        if len(after) >= len(left):
            break
        chosen, left = more, after
    return chosen


@dataclass(frozen=True, eq=False)
class Regions:
    """The heavy places of a piece, each with its ball and all cells that hang together with it through wide ones.

    ``cells`` tells of each cell of metal whether it is one of them; ``centres`` are the middles of the cells of metal.
    """

    tops: tuple[tuple[Point, float], ...]
    cells: tuple[Bools, ...]
    centres: Floats


def regions_of(studied: Studied, rules: Sequence[SprueRule]) -> Regions:
    """What is heavy and what hangs together with it; no gate has a part in it."""
    from scipy.ndimage import label

    balls = studied.ball_of_cell
    metal = np.argwhere(balls > 0)
    at = tuple(metal.T)
    choke, peak = _share(rules, "choke"), _share(rules, "peak")
    unfed = np.where(balls >= peak * balls.max(), balls, 0.0)
    tops: list[tuple[Point, float]] = []
    cells: list[Bools] = []
    while True:
        top = np.unravel_index(int(np.argmax(unfed)), unfed.shape)
        size = float(unfed[top])
        if size == 0.0:
            return Regions(tuple(tops), tuple(cells), studied.grid.centres_of(metal))
        regions, _ = label(balls >= choke * size)
        mine = regions == regions[top]
        tops.append((_point(studied.grid.centres_of(np.array([top]))[0]), size))
        cells.append(mine[at])
        unfed[mine] = 0.0


def cut_off(
    studied: Studied, gates: Sequence[Gate | Feeder], rules: Sequence[SprueRule], regions: Regions | None = None
) -> tuple[tuple[Point, float], ...]:
    """Heavy places whose way to every gate and feeder passes a narrower one than the rule allows: point and ball.

    Judged on cells: a place is fed if it hangs together with a gate through cells whose ball is large enough.
    """
    known = regions_of(studied, rules) if regions is None else regions
    at_gate = np.zeros(len(known.centres), np.bool_)
    for gate in gates:
        at_gate |= np.linalg.norm(known.centres - np.array(gate.point_mm), axis=1) < max(1.0, gate.ball_mm)
    return tuple(top for top, mine in zip(known.tops, known.cells, strict=True) if not (mine & at_gate).any())
