"""The stone: what is known of gem materials and cuts, and what the step ``gems`` finds.

**A stone's own frame.** The middle of the girdle is the plane z = 0, the table faces +z, x runs along the length and
y along the width, the origin is the centre of the outline's bounding box; a pear, a marquise and a heart have their
point at +x. Lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from ringwright.terms.body import Floats, Ints, Mesh
from ringwright.terms.fact import Row
from ringwright.terms.quantity import Estimate, Figure
from ringwright.terms.remark import Point


class Bears(StrEnum):
    """Whether a stone bears a treatment of the bench, best first."""

    YES = "yes"
    USUALLY = "usually, clean and untreated"
    RISKY = "risky"
    NEVER = "never"

    @property
    def rank(self) -> int:
        """0 to 3: the graver the higher."""
        return list(Bears).index(self)


class Force(StrEnum):
    """What force the setter may use on a stone, most first."""

    FIRM = "pusher or hammer"
    CAREFUL = "pusher only, no hammer"
    GENTLE = "light pusher and thinned metal, claws or bezel, no hammer, no flush setting"

    @property
    def rank(self) -> int:
        """0 to 2: the gentler the higher."""
        return list(Force).index(self)


class Family(StrEnum):
    """How a cut's facets are laid out."""

    BRILLIANT = "brilliant"
    STEP = "step"
    CHEVRON = "chevron"
    CABOCHON = "cabochon"


@dataclass(frozen=True, kw_only=True)
class GemFact(Row):
    """A gem material (``also`` = other names). Densities in g/cm3 with the range seen, conductivity in W/(m K).

    ``torch``: the stone left in place while soldering; ``pickle``: warm acid; ``treatments`` are those to reckon with
    where nobody knows; ``weighed`` says which weight rules are for it: "diamond" or "colour".
    """

    also: tuple[str, ...] = ()
    title: str
    formula: str
    weighed: str = "colour"
    density_g_cm3: float
    density_low_g_cm3: float
    density_high_g_cm3: float
    mohs: float
    mohs_high: float | None = None
    refractive_index: float
    refractive_index_high: float | None = None
    k_W_mK: float
    toughness: str
    cleavage: str
    torch: Bears
    ultrasonic: Bears
    steam: Bears
    pickle: Bears
    force: Force
    treatments: tuple[str, ...] = ()
    care: str = ""


@dataclass(frozen=True, kw_only=True)
class TreatmentFact(Row):
    """A treatment (``also`` = other names): the most that a treated stone bears, and what to say of it."""

    also: tuple[str, ...] = ()
    torch: Bears = Bears.YES
    ultrasonic: Bears = Bears.YES
    steam: Bears = Bears.YES
    pickle: Bears = Bears.YES
    weakens: bool = False
    care: str


@dataclass(frozen=True, kw_only=True)
class CutFact(Row):
    """A cut (``also`` = other names): how its solid is made, and what is usual. Percent of the width unless said.

    ``crown_deg`` is the angle of the crown mains on the width (its height follows the table), else ``crown_percent``
    is the height. Steps are angles from the girdle inward; ``insets`` the shares of the way that each step takes
    (equal where absent). ``corner_percent`` is what a cut corner takes of each side, or the radius of a rounded one;
    ``cleft_percent`` is of the length. ``fullness_percent``: by how much the pavilion is drawn to a wider outline than
    the girdle's; of a cabochon which share of the half axis of an ellipsoid its dome takes (100: it rises upright).
    ``ridge_percent``: how far a princess's last chevron leaves room for the ridge facets, 100 leaving none.
    ``weighed_as`` is the cut whose weight rules hold for it, where it has none of its own.
    The windows ``*_min/max_percent`` are what is usual; outside ``depth_never_*`` it is no such stone.
    """

    also: tuple[str, ...] = ()
    title: str
    family: Family
    outline: str
    weighed_as: str = ""
    table_percent: float | None = None
    crown_deg: float | None = None
    crown_percent: float | None = None
    girdle_percent: float
    pavilion_percent: float | None = None
    star_percent: float | None = None
    lower_half_percent: float | None = None
    crown_steps_deg: tuple[float, ...] = ()
    pavilion_steps_deg: tuple[float, ...] = ()
    insets: tuple[float, ...] = ()
    corner_percent: float | None = None
    bulge_percent: float | None = None
    cleft_percent: float | None = None
    fullness_percent: float | None = None
    ridge_percent: float | None = None
    table_min_percent: float | None = None
    table_max_percent: float | None = None
    depth_min_percent: float
    depth_max_percent: float
    colour_depth_max_percent: float | None = None
    depth_never_below_percent: float
    depth_never_above_percent: float
    girdle_min_percent: float
    girdle_max_percent: float
    ratio_min: float
    ratio_max: float
    ratio_never_below: float
    ratio_never_above: float
    length_min_mm: float
    length_max_mm: float
    size_spread_mm: float
    spread_percent: float
    spread_assumed_percent: float
    spread_colour_percent: float


@dataclass(frozen=True, kw_only=True)
class WeightRule(Row):
    """A published rule for the mass of a stone from its size: W(ct) = size * depth * factor [* density].

    ``key`` is "CUT, diamond" or "CUT, colour". ``size`` says what is multiplied: "length * width", "mean squared"
    (half the sum of length and width, squared) or "side and corner squared" (half the sum of the width and the width
    across the corners, squared). ``factors`` hold at the length-to-width ``ratios``, linear between;
    those for diamond hold its density, the others are multiplied by the density in g/cm3.
    """

    size: str
    ratios: tuple[float, ...]
    factors: tuple[float, ...]
    holds_density: bool
    accuracy_percent: float


@dataclass(frozen=True, kw_only=True)
class GirdleFact(Row):
    """A word for the girdle's thickness (key): up to ``up_to_percent`` of the width or up to ``up_to_mm``.

    The words are tried in the order of the file, thinnest first.
    """

    up_to_percent: float | None = None
    up_to_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class GirdleFactor(Row):
    """By how much a girdle other than medium changes a diamond's mass by rule: factors for widths from so many mm."""

    widths_from_mm: tuple[float, ...]
    girdle_factors: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class RoundDiameter(Row):
    """A row of the published tables of round diamonds: diameter to mass, lowest and highest of the tables seen."""

    diameter_mm: float
    mass_ct: float
    mass_high_ct: float | None = None
    agrees_with_cube_law: bool


@dataclass(frozen=True, kw_only=True)
class CutRisk(Row):
    """Where a cut is easily hurt in setting: ``severity`` 1 (low) to 5 (high) at its ``feature``, and what to do.

    Rows with ``adds`` hold for any cut: a condition that makes every place so much worse.
    """

    cut: str = ""
    feature: str = ""
    severity: int = 0
    adds: int = 0
    advice: str


@dataclass(frozen=True)
class Corner:
    """A place on the girdle that is easily hurt: what it is, where in the stone's frame, 1 (low) to 5 (high)."""

    feature: str
    at_mm: Point
    severity: int
    advice: str
    source: str


@dataclass(frozen=True, eq=False)
class CutSolid:
    """A stone as a closed solid in its own frame, with what a setting needs to know of its shape.

    ``outline_mm`` (n, 2) is the girdle seen from the top, counter-clockwise; ``girdle_top_mm`` and
    ``girdle_bottom_mm`` (n,) the heights of the girdle's edges at those points. ``table_mm`` (k, 2) is the table's
    outline, empty for a cabochon; ``edges`` (m, 2) are the edges of the facets as vertex numbers of the mesh.
    """

    name: str
    cut: str
    mesh: Mesh
    volume_mm3: float
    outline_mm: Floats
    girdle_top_mm: Floats
    girdle_bottom_mm: Floats
    table_mm: Floats
    edges: Ints
    facets: int
    table_z_mm: float
    culet_z_mm: float
    culet_at_mm: tuple[float, float]
    crown_height_mm: float
    pavilion_depth_mm: float
    girdle_thickest_mm: float
    girdle_thinnest_mm: float
    girdle_mean_mm: float
    table_percent: float | None
    girdle_percent: float
    crown_deg: float
    pavilion_deg: float
    assumed: tuple[str, ...]
    corners: tuple[Corner, ...]


@dataclass(frozen=True, kw_only=True)
class Gem:
    """What the step ``gems`` finds of one stone."""

    name: Annotated[str, Figure("", 0, "The stone's name in this commission")]
    cut: Annotated[str, Figure("", 0, "Cut, as in the facts")]
    material: Annotated[str, Figure("", 0, "Gem material, as in the facts")]
    length_mm: Annotated[float, Figure("mm", 2, "Length, or mean diameter of a round")]
    width_mm: Annotated[float, Figure("mm", 2, "Width")]
    depth_mm: Annotated[float, Figure("mm", 2, "Total depth")]
    ratio: Annotated[float, Figure("", 2, "Length over width")]
    depth_percent: Annotated[float, Figure("%", 1, "Depth in percent of the width")]
    volume_mm3: Annotated[float, Figure("mm3", 2, "Volume of the solid")]
    box_share: Annotated[float, Figure("", 4, "Volume over length, width and depth multiplied")]
    density_g_cm3: Annotated[Estimate, Figure("g/cm3", 2, "Density of the material")]
    mass_ct: Annotated[Estimate, Figure("ct", 3, "Mass by the solid", chief=True)]
    rule_mass_ct: Annotated[Estimate | None, Figure("ct", 3, "Mass by the published weight rule")]
    rule_source: Annotated[str, Figure("", 0, "Where the weight rule is from")]
    stated_ct: Annotated[float | None, Figure("ct", 3, "Mass on the seller's paper")]
    plausible: Annotated[bool | None, Figure("", 0, "Whether the stated mass fits the measured size")]
    could_be: Annotated[tuple[str, ...], Figure("", 0, "Materials of which the stated mass would fit this size")]
    assumed: Annotated[tuple[str, ...], Figure("", 0, "Proportions not measured, taken as usual for the cut")]
    table_percent: Annotated[float | None, Figure("%", 1, "Table in percent of the width")]
    crown_height_mm: Annotated[float, Figure("mm", 2, "Height of the crown, girdle's edge to table")]
    crown_deg: Annotated[float, Figure("deg", 1, "Angle of the crown on the width; of the lowest step or dome")]
    girdle_percent: Annotated[float, Figure("%", 1, "Girdle at its thick places in percent of the width")]
    girdle_thickest_mm: Annotated[float, Figure("mm", 3, "Thickest place of the girdle")]
    girdle_thinnest_mm: Annotated[float, Figure("mm", 3, "Thinnest place of the girdle")]
    girdle_mean_mm: Annotated[float, Figure("mm", 3, "Mean thickness of the girdle")]
    girdle_word: Annotated[str, Figure("", 0, "Girdle in the trade's words")]
    pavilion_depth_mm: Annotated[float, Figure("mm", 2, "Depth of the pavilion, girdle's edge to culet")]
    pavilion_deg: Annotated[float, Figure("deg", 1, "Angle of the pavilion on the width; of the lowest step")]
    culet_z_mm: Annotated[float, Figure("mm", 2, "Height of the culet, from the middle of the girdle")]
    facets: Annotated[int, Figure("", 0, "Facets, the girdle's walls not counted")]
    mohs: Annotated[float, Figure("", 1, "Hardness, the lower end, Mohs")]
    refractive_index: Annotated[float, Figure("", 3, "Refractive index, the lower end")]
    k_W_mK: Annotated[float, Figure("W/mK", 1, "Conductivity of heat")]
    toughness: Annotated[str, Figure("", 0, "Toughness in words")]
    cleavage: Annotated[str, Figure("", 0, "Cleavage in words")]
    treatment: Annotated[str, Figure("", 0, "Treatment, as said")]
    torch: Annotated[Bears, Figure("", 0, "Stone left in place while soldering")]
    ultrasonic: Annotated[Bears, Figure("", 0, "Ultrasonic bath")]
    steam: Annotated[Bears, Figure("", 0, "Steam")]
    pickle: Annotated[Bears, Figure("", 0, "Warm pickle")]
    force: Annotated[Force, Figure("", 0, "Force that the setter may use")]
    cautions: Annotated[tuple[str, ...], Figure("", 0, "What to heed at the bench")]
    setting_risk: Annotated[int, Figure("", 0, "Risk to the stone in setting, 1 low to 5 high")]
    worst_place: Annotated[str, Figure("", 0, "The place of the stone that is hurt most easily")]
