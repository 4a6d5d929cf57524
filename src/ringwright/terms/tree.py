"""How the metal is led in, and what mould: rows of the facts, and the figures that the step ``tree`` yields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ringwright.terms.body import Floats, Mesh
from ringwright.terms.fact import Row
from ringwright.terms.quantity import Figure
from ringwright.terms.remark import Point


@dataclass(frozen=True, kw_only=True)
class InvestmentFact(Row):
    """An investment powder (key = the word in ``habits.investment``), unfired and fired.

    ``water_per_100`` is grams of water (or mixing liquid) for 100 g of powder. ``powder_volume_L_kg`` is the
    volume that a kilogram of powder takes in the slurry, so that the slurry's volume is that plus the liquid's.
    ``max_oven_C`` is the highest hold in regular work, ``never_oven_C`` the highest that any source allows;
    ``max_metal_C`` and ``never_metal_C`` are the same for the melt. Columns in pairs (``k_at_C`` and
    ``k_W_mK``, ``cp_at_C`` and ``cp_J_kgK``, ``expansion_at_C`` and ``expansion_percent``) are read linearly
    between their points and held at the ends. ``fired_density_g_cm3`` is the bulk density of the dry fired mould.
    """

    title: str
    binder: str
    pattern_kinds: tuple[str, ...]
    water_per_100: float
    water_per_100_low: float
    water_per_100_high: float
    liquid: str
    mix_density_g_cm3: float
    powder_volume_L_kg: float
    reserve_percent: float
    working_min: float
    gloss_off_min: float | None = None
    mix_min: float
    set_h: float
    set_h_longest: float
    bound_water_per_100: float
    fired_density_g_cm3: float
    porosity_percent: float
    k_at_C: tuple[float, ...]
    k_W_mK: tuple[float, ...]
    k_low_W_mK: float
    k_high_W_mK: float
    cp_at_C: tuple[float, ...]
    cp_J_kgK: tuple[float, ...]
    permeability_m2: float
    permeability_low_m2: float
    permeability_high_m2: float
    max_oven_C: float
    never_oven_C: float
    sulfur_from_C: float | None = None
    max_metal_C: float
    never_metal_C: float
    setting_expansion_percent: float
    expansion_at_C: tuple[float, ...]
    expansion_percent: tuple[float, ...]
    note: str = ""

    def slurry_L_per_kg(self, water_per_100: float | None = None) -> float:
        """Litres of slurry from a kilogram of powder, at ``water_per_100`` or the usual ratio."""
        water = self.water_per_100 if water_per_100 is None else water_per_100
        return self.powder_volume_L_kg + water / 100.0 / self.mix_density_g_cm3

    def slurry_density_g_cm3(self, water_per_100: float | None = None) -> float:
        """Density of the fresh slurry: all that was weighed in over the volume that it gives."""
        water = self.water_per_100 if water_per_100 is None else water_per_100
        return (1.0 + water / 100.0) / self.slurry_L_per_kg(water)


@dataclass(frozen=True, kw_only=True)
class SprueRule(Row):
    """One rule for leading the metal in. Which columns a row has is told by its key.

    ``modulus`` (volume over cooling surface of the sprue, as a share of the piece's heaviest part), ``diameter`` (of
    a round sprue, as a share of the thickest section), ``least`` (thinnest sprue), ``step`` (in which diameters are
    given), ``ring-light`` and ``ring-heavy`` (diameters by the ring's mass), ``length``, ``number`` (one gate up to
    this mass and width; ``most_gates``), ``spread`` (angle between two gates), ``fillet`` (radius as a share of the
    sprue's), ``angle`` (from the horizontal, of a branch), ``trunk`` (diameter), ``stem`` (length above a fork),
    ``button`` (mass as a share of pieces and sprues), ``button-cone`` (half-angle and freeboard under the rim),
    ``heavy`` (share of the thickest ball from which a place is as good as the thickest), ``peak`` (from which a gate
    may stand there, and it must be fed), ``choke`` (share of a heavy place's ball below which the way to it is cut
    off), ``stone`` (distance of a gate from a stone), ``feeder`` and ``feeder-neck`` (volume over cooling surface of a
    blind feeder and of its neck, as a share of the place's that it feeds), ``feeder-neck-length`` (at least, and as a
    share of the feeder's diameter at most), ``feeder-yield`` (share of a feeder that it can give away), ``mark-…``
    (what counts against a place, where places are compared).
    """

    least_mm: float | None = None
    use_mm: float | None = None
    most_mm: float | None = None
    least_share: float | None = None
    use_share: float | None = None
    most_share: float | None = None
    least_deg: float | None = None
    use_deg: float | None = None
    most_deg: float | None = None
    up_to_g: float | None = None
    up_to_width_mm: float | None = None
    most_gates: float | None = None
    counts: float | None = None
    says: str = ""


@dataclass(frozen=True, kw_only=True)
class ClearanceFact(Row):
    """Investment left free: to the flask's ``wall``, ``between`` pieces, to the ``end`` away from the pour.

    ``solid-flask-height``: how tall an unperforated flask may be under vacuum.
    """

    free_mm: float
    free_low_mm: float
    free_high_mm: float


@dataclass(frozen=True, kw_only=True)
class CastingLossFact(Row):
    """Metal lost for good, and metal that comes back, in a step of the work, in percent of the metal that goes in."""

    what: str
    lost_low_percent: float
    lost_high_percent: float
    back_low_percent: float | None = None
    back_high_percent: float | None = None
    recovered_low_percent: float | None = None
    recovered_high_percent: float | None = None


@dataclass(frozen=True, kw_only=True)
class CrucibleRule(Row):
    """A crucible's material that an element in the melt forbids, from ``from_percent`` of it."""

    material: str
    element: str
    from_percent: float
    why: str


@dataclass(frozen=True, kw_only=True)
class PowderRule(Row):
    """A chart or rule that weighs the powder by the flask's size alone: grams for each cm3 of the flask."""

    powder_g_cm3: float
    water_per_100: float | None = None
    flask_diameter_mm: float | None = None
    flask_height_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Gate:
    """Where metal enters a piece: a point of its surface, the outward direction, and the largest ball behind it."""

    piece: Annotated[str, Figure("", 0, "Name of the piece")]
    point_mm: Annotated[Point, Figure("mm", 2, "Place on the pattern, in the ring's frame")]
    outward: Annotated[Point, Figure("", 3, "Direction in which the sprue leaves")]
    ball_mm: Annotated[float, Figure("mm", 2, "Largest ball in the metal behind it")]
    why: Annotated[str, Figure("", 0, "Why there")]


@dataclass(frozen=True, kw_only=True)
class Feeder:
    """A blind feeder: a ball of metal on a neck, at a heavy place that no gate feeds, to freeze after it.

    ``modulus`` is volume over cooling surface: of the place that it feeds, and of the ball.
    """

    piece: Annotated[str, Figure("", 0, "Name of the piece")]
    point_mm: Annotated[Point, Figure("mm", 2, "Place on the pattern, in the ring's frame")]
    outward: Annotated[Point, Figure("", 3, "Direction in which its neck leaves")]
    ball_mm: Annotated[float, Figure("mm", 2, "Largest ball in the metal that it feeds")]
    place_modulus_mm: Annotated[float, Figure("mm", 3, "Volume over cooling surface of the place that it feeds")]
    modulus_mm: Annotated[float, Figure("mm", 3, "Volume over cooling surface of the feeder")]
    diameter_mm: Annotated[float, Figure("mm", 1, "Diameter of the feeder")]
    neck_diameter_mm: Annotated[float, Figure("mm", 1, "Diameter of its neck")]
    neck_length_mm: Annotated[float, Figure("mm", 1, "Length of its neck, where it is cut off")]
    volume_mm3: Annotated[float, Figure("mm3", 1, "Volume of feeder and neck")]
    why: Annotated[str, Figure("", 0, "Why there")]

    @property
    def centre_mm(self) -> Point:
        """The middle of its ball, in the ring's frame."""
        away = self.neck_length_mm + self.diameter_mm / 2
        (x, y, z), (u, v, w) = self.point_mm, self.outward
        return x + away * u, y + away * v, z + away * w


@dataclass(frozen=True, kw_only=True, eq=False)
class TreePiece:
    """A pattern that goes on a tree, in its ring's own frame, at the pattern's size.

    ``gates_mm`` are the maker's own; where there are none they are proposed. ``feeders_mm`` are where the maker wants
    blind feeders. ``stones`` are kept clear.
    """

    name: str
    pattern: Mesh
    hole_diameter_mm: float
    stones: tuple[Mesh, ...] = ()
    gates_mm: tuple[Point, ...] = ()
    feeders_mm: tuple[Point, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Way:
    """A way of leading the metal into one piece: its gates and, where it differs from the usual, its sprue."""

    what: Annotated[str, Figure("", 0, "In words")]
    gates_mm: Annotated[tuple[Point, ...], Figure("mm", 2, "Gates on the pattern, in the ring's frame")]
    counts: Annotated[float, Figure("", 2, "What counts against its marks, by the rules of sprues")] = 0.0
    unfed_ball_mm: Annotated[float, Figure("mm", 1, "Largest heavy place that the rule of sprues calls not fed")] = 0.0
    sprue_diameter_mm: Annotated[float | None, Figure("mm", 1, "Sprue at a gate, where not the usual one")] = None
    sprue_length_mm: Annotated[float | None, Figure("mm", 1, "Its length, where not the usual one")] = None
    feeders_mm: Annotated[tuple[Point, ...], Figure("mm", 2, "Blind feeders on the pattern, in the ring's frame")] = ()


@dataclass(frozen=True, kw_only=True)
class Pose:
    """How a piece stands in the flask: ``flask = rotation @ ring + shift``.

    **The flask's frame.** z points up as the flask stands when it is poured; z = 0 is the rim where the metal goes
    in, the mould lies below it (z < 0); the flask's axis is x = y = 0. In mm.
    """

    piece: Annotated[str, Figure("", 0, "Name of the piece")]
    rotation: Annotated[tuple[Point, Point, Point], Figure("", 6, "Rotation, row by row")]
    shift_mm: Annotated[Point, Figure("mm", 3, "Shift")]

    @property
    def matrix(self) -> Floats:
        """The rotation as an array (3, 3)."""
        return np.array(self.rotation, dtype=np.float64)

    def to_flask(self, points_mm: Floats) -> Floats:
        """Points (…, 3) of the ring's frame, in the flask's."""
        moved: Floats = np.asarray(points_mm, dtype=np.float64) @ self.matrix.T + np.array(self.shift_mm)
        return moved

    def to_ring(self, points_mm: Floats) -> Floats:
        """Points (…, 3) of the flask's frame, in the ring's."""
        moved: Floats = (np.asarray(points_mm, dtype=np.float64) - np.array(self.shift_mm)) @ self.matrix
        return moved


@dataclass(frozen=True, kw_only=True)
class TreeFigures:
    """The tree, its flask, its mould and its charge."""

    pieces: Annotated[tuple[str, ...], Figure("", 0, "What is on the tree")]
    gates: Annotated[tuple[Gate, ...], Figure("", 0, "Where the metal enters")]
    poses: Annotated[tuple[Pose, ...], Figure("", 0, "How each piece stands in the flask")]
    heaviest_ball_mm: Annotated[float, Figure("mm", 2, "Largest ball that fits into the metal")]
    piece_modulus_mm: Annotated[float, Figure("mm", 3, "Volume over cooling surface of the heaviest part")]
    sprue_modulus_mm: Annotated[float, Figure("mm", 3, "The same of the sprue")]
    sprue_diameter_mm: Annotated[float, Figure("mm", 1, "Diameter of the sprue at a gate", chief=True)]
    sprue_length_mm: Annotated[
        float, Figure("mm", 1, "Length of a sprue, from the metal to stem or button", chief=True)
    ]
    fillet_mm: Annotated[float, Figure("mm", 1, "How much wider the sprue is where it meets the piece, in radius")]
    stem_diameter_mm: Annotated[float | None, Figure("mm", 1, "Diameter of the stem or trunk, where there is one")]
    stem_length_mm: Annotated[float | None, Figure("mm", 1, "Length of the stem or trunk")]
    button_diameter_mm: Annotated[float, Figure("mm", 1, "Diameter of the button")]
    button_height_mm: Annotated[float, Figure("mm", 1, "Height of the button's cone")]
    button_top_mm: Annotated[float, Figure("mm", 1, "Top of the button below the rim")]
    tree_height_mm: Annotated[
        float, Figure("mm", 1, "From the top of the button to the lowest place: the head of metal")
    ]
    tree_radius_mm: Annotated[float, Figure("mm", 1, "Farthest place from the flask's axis")]
    flask: Annotated[str | None, Figure("", 0, "Flask of the workshop, if one will do", chief=True)]
    flask_diameter_mm: Annotated[float, Figure("mm", 0, "Inner diameter of the flask")]
    flask_height_mm: Annotated[float, Figure("mm", 0, "Inner height of the flask")]
    wall_clearance_mm: Annotated[float, Figure("mm", 1, "Investment between tree and wall")]
    end_clearance_mm: Annotated[float, Figure("mm", 1, "Investment between tree and the end away from the pour")]
    between_clearance_mm: Annotated[float | None, Figure("mm", 1, "Least gap between two pieces")]
    investment: Annotated[str, Figure("", 0, "Key of the investment in the facts")]
    water_per_100: Annotated[float, Figure("", 1, "Water in g per 100 g of powder")]
    slurry_cm3: Annotated[float, Figure("cm3", 0, "Slurry in the flask")]
    powder_net_g: Annotated[float, Figure("g", 0, "Powder that the flask holds")]
    water_net_g: Annotated[float, Figure("g", 0, "Water that the flask holds")]
    powder_g: Annotated[float, Figure("g", 0, "Powder to weigh out, with reserve", chief=True)]
    water_g: Annotated[float, Figure("g", 0, "Water to weigh out, with reserve", chief=True)]
    pieces_mm3: Annotated[float, Figure("mm3", 1, "Volume of the patterns")]
    sprues_mm3: Annotated[float, Figure("mm3", 1, "Volume of sprues and stem")]
    button_mm3: Annotated[float, Figure("mm3", 1, "Volume of the button")]
    tree_mm3: Annotated[float, Figure("mm3", 1, "Volume of the whole tree")]
    pieces_g: Annotated[float, Figure("g", 2, "Metal in the pieces, at the pattern's volume")]
    sprues_g: Annotated[float, Figure("g", 2, "Metal in sprues and stem")]
    button_g: Annotated[float, Figure("g", 2, "Metal in the button")]
    loss_g: Annotated[float, Figure("g", 2, "Metal lost in melting and casting")]
    charge_g: Annotated[float, Figure("g", 2, "Metal to weigh out", chief=True)]
    melt_cm3: Annotated[float, Figure("cm3", 2, "Volume of the molten charge")]
    melt_C: Annotated[float, Figure("°C", 0, "Temperature of the melt")]
    crucible: Annotated[str | None, Figure("", 0, "Crucible of the workshop, if one will do")]
    ways: Annotated[tuple[Way, ...], Figure("", 0, "Ways of leading the metal in, to be judged; this one first")] = ()
    feeders: Annotated[tuple[Feeder, ...], Figure("", 0, "Blind feeders at heavy places that no gate feeds")] = ()
    feeders_mm3: Annotated[float, Figure("mm3", 1, "Volume of the blind feeders")] = 0.0
    feeders_g: Annotated[float, Figure("g", 2, "Metal in the blind feeders")] = 0.0
