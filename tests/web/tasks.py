"""A making of a small ring that is drawn here instead of worked, so that the pages' tests are quick."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from typing import Annotated, Any

import numpy as np

from ringwright.desk.keeping import Keeping
from ringwright.terms.body import Body, Field, Floats, Mesh, Role, Voxels
from ringwright.terms.commission import Commission
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate, Figure
from ringwright.terms.remark import Level, Remark
from ringwright.terms.tree import Gate
from ringwright.terms.workshop import Workshop
from tests.desk.tasks import Frame

RADIUS_MM, HALF_MM = 9.0, 1.2
AT_BOTTOM = (0.0, -RADIUS_MM - HALF_MM, 0.0)
AT_SIDE = (RADIUS_MM + HALF_MM, 0.0, 0.0)
MODEL_AT = (48.0, -12.5, 7.25)
RIM_MM = 20.0
CELL_MM = 0.4
SLOW_S = 20.0


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What was drawn."""

    mass_g: Annotated[Estimate, Figure("g", 2, "Mass of the ring", chief=True)]
    wall_mm: Annotated[float, Figure("mm", 2, "Thinnest wall", chief=True)]
    volume_mm3: Annotated[float, Figure("mm3", 1, "Volume")]
    masses: Annotated[dict[str, float], Figure("g", 2, "Mass by alloy")]


@dataclass(frozen=True, kw_only=True)
class Placed(Drawn):
    """How the model lies: as the ring, moved."""

    hole_axis: Annotated[tuple[float, float, float], Figure("", 4, "Direction of the finger")] = (0.0, 0.0, 1.0)
    head_axis: Annotated[tuple[float, float, float], Figure("", 4, "Direction of the head")] = (0.0, 1.0, 0.0)
    hole_centre_mm: Annotated[tuple[float, float, float], Figure("mm", 3, "Centre of the hole")] = MODEL_AT


@dataclass(frozen=True, kw_only=True)
class Led:
    """How the metal is led in."""

    gates: Annotated[tuple[Gate, ...], Figure("", 0, "Where the metal enters")]
    feeders: Annotated[tuple[Gate, ...], Figure("", 0, "Blind feeders")] = ()


@dataclass(frozen=True, kw_only=True)
class Scaled(Drawn):
    """The pattern is larger by a tenth."""

    scale_percent: Annotated[float, Figure("%", 1, "Scale")] = 110.0


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What it costs."""

    total: Annotated[Decimal, Figure("money", 2, "Price", chief=True)]


@dataclass(frozen=True, kw_only=True)
class Making:
    """A making with as much in it as the pages show."""

    commission: Commission
    workshop: Workshop
    piece: Outcome[Drawn]
    wear: Outcome[Drawn]
    pattern: Outcome[Drawn]
    tree: Outcome[Led]
    pour: Outcome[Drawn]
    price: Outcome[Asked]


def torus(around: int = 160, across: int = 40) -> Mesh:
    """A plain ring in the ring's frame; its wall is everywhere twice HALF_MM."""
    t = np.linspace(0, 2 * np.pi, around, endpoint=False)[:, None]
    s = np.linspace(0, 2 * np.pi, across, endpoint=False)[None, :]
    far = RADIUS_MM + HALF_MM * np.cos(s)
    points = np.stack(np.broadcast_arrays(far * np.cos(t), far * np.sin(t), HALF_MM * np.sin(s)), axis=-1)
    i, j = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    k, m = (i + 1) % around, (j + 1) % across
    a, b, c, d = (x * across + y for x, y in ((i, j), (k, j), (k, m), (i, m)))
    faces = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    return Mesh(points.reshape(-1, 3), faces)


def stone() -> Mesh:
    """Eight faces above the head."""
    points = np.array([[2, 0, 0], [-2, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 2], [0, 0, -2.0]]) + np.array([0, 12.0, 0])
    faces = [[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]]
    return Mesh(points, np.array(faces))


def in_flask() -> Mesh:
    """The ring in its flask, whose frame has z up and its rim at 0."""
    turn = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    return torus().moved(turn, np.array([0.0, 0.0, -RIM_MM]))


def inside(tree: Mesh) -> Voxels:
    """How deep each cell of the metal lies under the rim."""
    low = tree.vertices_mm.min(axis=0) - CELL_MM
    count = np.ceil((tree.vertices_mm.max(axis=0) + CELL_MM - low) / CELL_MM).astype(int)
    x, y, z = np.meshgrid(*(low[k] + CELL_MM * (np.arange(count[k]) + 0.5) for k in range(3)), indexing="ij")
    within = (np.hypot(x, z + RIM_MM) - RADIUS_MM) ** 2 + y**2 < HALF_MM**2
    values = np.where(within, -z, np.nan).astype(np.float32)
    corner = (float(low[0]), float(low[1]), float(low[2]))
    return Voxels("deep", "Depth under the rim", "mm", corner, CELL_MM, values)


def height(mesh: Mesh) -> Floats:
    """A figure that is told apart at every place: how high it lies."""
    found: Floats = mesh.vertices_mm[:, 1]
    return found


def doubled(text: str) -> str:
    """Something to keep."""
    return text * 2


def make_ring(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    """Work by the title: "slow" takes its time until it is stopped."""
    from ringwright import facts
    from ringwright.desk import _tasks, planning

    def given(ordered: Any, facts: Any, today: Any, keep: Any, progress: Any, aside: Any) -> Making:
        order: Commission = ordered.commission
        progress(0.1, "finger: sizes")
        keep("finger", doubled, order.finger.size or "")
        progress(0.3, "metal: charge")
        keep("metal", doubled, order.metal.alloy)
        progress(0.6, "wear: strength on a hand")
        until = time.monotonic() + SLOW_S
        while "slow" in order.commission.title and time.monotonic() < until:
            progress(0.6, "wear: strength on a hand")
            time.sleep(0.02)
        keep("price", doubled, order.metal.alloy)
        return worked(order, ordered.workshop)

    planning._work = given
    facts.load = lambda: None  # type: ignore[assignment,return-value]
    _tasks._keeping = _keeping
    return _tasks.make(data, attached, telling)


def worked(order: Commission, shop: Workshop) -> Making:
    """The making of the ring drawn here."""
    ring = torus()
    grams = 3.9 if order.metal.alloy == "18k-3n" else 2.8
    drawn = Drawn(
        mass_g=Estimate(grams, 0.1), wall_mm=2 * HALF_MM, volume_mm3=255.8, masses={"18k-3n": 3.9, "9k-yellow": 2.8}
    )
    thin = Remark(
        "wear", Level.HALT, "thin", "The shank <i>is</i> thin here.", 0.6, 0.8, "mm", "common practice, no source",
        "bottom of the shank", AT_BOTTOM, "make it thicker",
    )  # fmt: skip
    soft = Remark("wear", Level.HEED, "soft", "The side is soft.", place="side", point_mm=AT_SIDE, change="harden it")
    tree = in_flask()
    deep = Field("deep", "Depth under the rim", "mm", "tree", -tree.vertices_mm[:, 2], low_is_bad=False)
    gate = Gate(
        piece="ring",
        point_mm=(0.0, 1.1 * AT_BOTTOM[1], 0.0),
        outward=(0.0, -1.0, 0.0),
        ball_mm=2.4,
        why="heaviest place",
    )
    feeder = replace(gate, point_mm=(11.22, 0.0, 0.0), outward=(1.0, 0.0, 0.0), why="the maker's own")
    return Making(
        commission=order,
        workshop=shop,
        piece=Outcome(
            "piece", Placed(**vars(drawn)), (), (Body("ring", Role.METAL, ring), Body("centre", Role.STONE, stone()))
        ),
        wear=Outcome(
            "wear",
            replace(drawn, wall_mm=2.0),
            (thin, soft),
            (),
            (Field("height", "Height above the hole", "mm", "ring", height(ring), low_is_bad=False),),
        ),
        pattern=Outcome("pattern", Scaled(**vars(drawn)), (), (Body("pattern", Role.PATTERN, ring),)),
        tree=Outcome("tree", Led(gates=(gate,), feeders=(feeder,)), (), (Body("tree", Role.TREE, tree),)),
        pour=Outcome("pour", drawn, fields=(deep,), voxels=(inside(tree),)),
        price=Outcome("price", Asked(total=Decimal("812.50") if grams > 3 else Decimal("412.50"))),
    )


@cache
def _keeping() -> Keeping:
    return Keeping()
