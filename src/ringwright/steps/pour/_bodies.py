"""Metal and mould as bodies that hold and conduct heat, and as what flows and what it flows into."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringwright.science.conduction import Cylinder, Face, Reaction, Substance, substance
from ringwright.science.filling import ATMOSPHERE_PA, Liquid, Wall, shape_factor_m
from ringwright.steps.pour._rules import PourRows
from ringwright.terms.alloy import Alloy, ElementFact
from ringwright.terms.body import Floats
from ringwright.terms.burnout import BurnoutHeatFact
from ringwright.terms.facts import used
from ringwright.terms.tree import InvestmentFact, TreeFigures
from ringwright.terms.workshop import Casting, CastingPlant

KELVIN = 273.15
_PIECES = 8


def solid_share(at_C: Floats, alloy: Alloy, elements: Sequence[ElementFact]) -> Floats:
    """The share of solid between solidus and liquidus by the lever rule on straight lines from the main metal.

    fs = (Tl - T) (Tm - Ts) / ((Tm - T) (Tl - Ts)) with Tm the melting point of the element that there is most of; a
    straight line where Tm lies between solidus and liquidus, so that no such diagram exists.
    """
    low, high = alloy.solidus_C, alloy.liquidus_C
    main = max(alloy.composition, key=lambda e: alloy.composition[e])
    melts = used(elements, main, "element").melting_C
    t = np.clip(np.asarray(at_C, np.float64), low, high)
    straight = (high - t) / (high - low)
    if low <= melts <= high:
        return np.asarray(straight)
    return np.asarray(straight * (melts - low) / (melts - t))


def solid_C(share: float, alloy: Alloy, elements: Sequence[ElementFact]) -> float:
    """The temperature at which that share is solid."""
    t = np.linspace(alloy.solidus_C, alloy.liquidus_C, 401)
    return float(np.interp(-share, -solid_share(t, alloy, elements), t))


def metal_density(alloy: Alloy) -> float:
    """Density in kg/m3 that the heat of the metal is reckoned with: half-way from liquid to fed solid."""
    return 1000.0 * alloy.liquid_density_g_cm3 * (1.0 + alloy.freezing_shrinkage_percent / 200.0)


def metal(alloy: Alloy, elements: Sequence[ElementFact]) -> Substance:
    """The alloy: conductivity, heat capacity, and its latent heat spread by the share of solid."""
    density = metal_density(alloy)
    low, high = alloy.solidus_C, max(alloy.liquidus_C, alloy.solidus_C + 1.0)
    knots = np.linspace(low, high, _PIECES + 1)
    shares = solid_share(knots, alloy, elements)
    heats = [
        Reaction(from_K=a + KELVIN, to_K=b + KELVIN, J_m3=density * alloy.latent_kJ_kg * 1000.0 * (fa - fb))
        for a, b, fa, fb in zip(knots[:-1], knots[1:], shares[:-1], shares[1:], strict=True)
    ]
    T = [0.0, low, *knots[1:-1], high, high + 1000.0]
    share = np.interp(T, knots, shares, left=1.0, right=0.0)
    k = share * alloy.k_solid_W_mK + (1 - share) * alloy.k_liquid_W_mK
    c = density * (share * alloy.cp_solid_J_kgK + (1 - share) * alloy.cp_liquid_J_kgK)
    return substance([t + KELVIN for t in T], k.tolist(), c.tolist(), heats)


def mould(investment: InvestmentFact) -> Substance:
    """The fired mould, dry."""
    T = sorted({20.0, *investment.k_at_C, *investment.cp_at_C, 1500.0})
    k = np.interp(T, investment.k_at_C, investment.k_W_mK)
    c = np.interp(T, investment.cp_at_C, investment.cp_J_kgK) * investment.fired_density_g_cm3 * 1000.0
    return substance([t + KELVIN for t in T], k.tolist(), c.tolist())


def room_C(heat: Sequence[BurnoutHeatFact]) -> float:
    """The workshop's air."""
    return used(heat, "workshop", "figure of heat").room_C or 20.0


def outside(heat: Sequence[BurnoutHeatFact]) -> Face:
    """The flask's outside in the workshop: still air, its own radiation, the heat of its wall."""
    air, skin, wall = (used(heat, key, "figure of heat") for key in ("still air", "flask surface", "flask wall"))
    steel = (wall.wall_mm or 0) / 1000 * (wall.wall_density_g_cm3 or 0) * 1000 * (wall.wall_cp_J_kgK or 0)
    return Face(h_W_m2K=air.convection_W_m2K or 0, emissivity=skin.emissivity or 0, skin_J_m2K=steel)


@dataclass(frozen=True, eq=False, kw_only=True)
class Cooled:
    """A flask some time out of the kiln: temperatures by height and radius, about the tree, and on its outside."""

    z_mm: Floats
    r_mm: Floats
    T_C: Floats
    about_C: float
    skin_C: float

    def at_C(self, points_mm: NDArray[Any]) -> Floats:
        """The temperature at places in the flask, straight between the middles of its cells."""
        r = np.hypot(points_mm[:, 0], points_mm[:, 1])
        row = np.interp(points_mm[:, 2], self.z_mm, np.arange(len(self.z_mm)))
        column = np.interp(r, self.r_mm, np.arange(len(self.r_mm)))
        i = np.minimum(row.astype(int), len(self.z_mm) - 2)
        j = np.minimum(column.astype(int), len(self.r_mm) - 2)
        up, out = row - i, column - j
        low = (1 - out) * self.T_C[i, j] + out * self.T_C[i, j + 1]
        high = (1 - out) * self.T_C[i + 1, j] + out * self.T_C[i + 1, j + 1]
        found: Floats = (1 - up) * low + up * high
        return found


def cooled(
    figures: TreeFigures, investment: InvestmentFact, flask_C: float, seconds: float, heat: Sequence[BurnoutHeatFact]
) -> Cooled:
    """The flask some time out of the kiln."""
    face = outside(heat)
    bare = Face(h_W_m2K=face.h_W_m2K, emissivity=face.emissivity)
    radius, height = figures.flask_diameter_mm / 2000, figures.flask_height_mm / 1000
    body = Cylinder(
        radius_m=radius,
        height_m=height,
        inside=mould(investment),
        side=face,
        top=bare,
        bottom=bare,
        cells_r=max(8, math.ceil(radius / 0.002)),
        cells_z=max(12, math.ceil(height / 0.003)),
    )
    state = body.at(flask_C + KELVIN)
    around = room_C(heat) + KELVIN
    steps = max(1, math.ceil(seconds / 15.0))
    for _ in range(steps if seconds > 0 else 0):
        state = body.after(state, seconds / steps, (around, around))
    cells = body.temperatures_K(state)
    nz, nr = cells.shape
    z = (np.arange(nz) + 0.5) / nz * height * 1000 - figures.flask_height_mm
    r = (np.arange(nr) + 0.5) / nr * radius * 1000
    low = -(figures.button_top_mm + figures.tree_height_mm)
    near = ((z > low) & (z < -figures.button_top_mm))[:, None] & (r < figures.tree_radius_mm)[None, :]
    weight = np.broadcast_to(r, cells.shape)
    about = float((cells * weight)[near].sum() / weight[near].sum()) if near.any() else float(cells.mean())
    return Cooled(z_mm=z, r_mm=r, T_C=cells - KELVIN, about_C=about - KELVIN, skin_C=float(cells[nz // 2, -1]) - KELVIN)


def liquid(alloy: Alloy, rows: PourRows) -> Liquid:
    """The melt as it flows."""
    return Liquid(
        density=1000.0 * alloy.liquid_density_g_cm3,
        viscosity=alloy.viscosity_mPas / 1000.0,
        tension=alloy.surface_tension_N_m,
        angle_deg=rows.figure("contact angle"),
        heat_capacity=alloy.cp_liquid_J_kgK,
        latent=alloy.latent_kJ_kg * 1000.0,
        liquidus_C=alloy.liquidus_C,
        solidus_C=alloy.solidus_C,
        stops_at=rows.figure("flow stops"),
    )


def effusivity(investment: InvestmentFact, at_C: float) -> float:
    """sqrt(k rho c) of the fired mould, J/(m2 K s^0.5)."""
    k = float(np.interp(at_C, investment.k_at_C, investment.k_W_mK))
    c = float(np.interp(at_C, investment.cp_at_C, investment.cp_J_kgK))
    return math.sqrt(k * investment.fired_density_g_cm3 * 1000.0 * c)


def gas_shape_m(figures: TreeFigures, hull_mm2: float, *, perforated: bool, vacuum: bool) -> float:
    """Shape factor of the gas' way from the cavity to the face of the mould where it leaves.

    Two resistances in series: from the cavity, as a plump body of its hull's surface, into the mould about it; and
    from there as through a plug of the flask's section to the end away from the pour (under vacuum), or to both ends;
    where the flask is perforated, through its whole side as well.
    """
    area = math.pi / 4 * figures.flask_diameter_mm**2
    middle = figures.end_clearance_mm + figures.tree_height_mm / 2
    end = area / middle
    top = 0.0 if vacuum else area / max(figures.flask_height_mm - middle, 1.0)
    side = 0.0
    if perforated:
        wide = max(figures.flask_diameter_mm / 2, figures.tree_radius_mm * 1.05)
        side = 2 * math.pi * figures.tree_height_mm / math.log(wide / (figures.tree_radius_mm * 0.7))
    near = shape_factor_m(hull_mm2 * 1e-6)
    far = (end + top + side) * 1e-3
    return 1.0 / (1.0 / near + 1.0 / far)


def wall(
    investment: InvestmentFact,
    mould_C: float,
    shape_m: float,
    plant: CastingPlant,
    alloy: Alloy,
    rows: PourRows,
    *,
    kind: bool = False,
) -> Wall:
    """The mould as the flowing metal meets it; its heat is taken half-way from the mould to the metal.

    With ``kind`` contact and mixing of the front are at the ends of what they may be that keep the metal hot.
    """
    contact, tip = rows.limit("contact"), rows.limit("tip")
    vacuum = plant.vacuum_kPa * 1000.0 if plant.method is Casting.VACUUM else 0.0
    return Wall(
        effusivity=effusivity(investment, (mould_C + alloy.liquidus_C) / 2),
        contact=(contact.figure_low if kind else contact.figure) or rows.figure("contact"),
        temperature_C=mould_C,
        permeability=investment.permeability_m2,
        shape_m=shape_m,
        behind_Pa=ATMOSPHERE_PA - vacuum,
        tip=(tip.figure_high if kind else tip.figure) or rows.figure("tip"),
    )
