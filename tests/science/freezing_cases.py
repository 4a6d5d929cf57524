"""Freezing with a known answer, run by the real solver in three dimensions: for tests, checks and benchmarks."""

from __future__ import annotations

import math

import numpy as np

from ringwright.science.conduction import Face, Reaction, Substance, substance
from ringwright.science.freezing import Care, Frozen, Grading, Room, Setting, cells_of, freeze
from ringwright.terms.body import Floats, Mesh
from tests.science import shapes

ZERO = 273.15
RHO, CP, K_SOLID, K_LIQUID, LATENT = 15400.0, 160.0, 120.0, 60.0, 63e3
MELTS, WALL, POUR = 890.0 + ZERO, 550.0 + ZERO, 1000.0 + ZERO
GOLD_MELTS, GOLD_MOULD = 890.0 + ZERO, 500.0 + ZERO
"""The first set is a plain one of round figures; the second is 18 ct gold in gypsum as the worked texts have it."""


def pure(range_K: float, *, liquid: float = K_LIQUID) -> Substance:
    """A metal that freezes within ``range_K`` below ``MELTS``."""
    heat = Reaction(from_K=MELTS - range_K, to_K=MELTS, J_m3=RHO * LATENT)
    return substance([MELTS - range_K, MELTS], [K_SOLID, liquid], [RHO * CP] * 2, [heat])


def plain_mould(k: float = 0.40, c: float = 1.15e6) -> Substance:
    """A mould of constant properties."""
    return substance([300.0, 1500.0], [k, k], [c, c])


def errors_of_neumann(h: float, growth: float) -> tuple[Floats, Frozen]:
    """A column of liquid on a cold wall, against Neumann's two-phase solution; 1 to 7 mm from the wall.

    The error of each cell's time at half its latent heat, when the front is in its middle.
    """
    big = shapes.block(100, 100, 100)
    cells = cells_of(big, Room(radius_mm=h, bottom_mm=0, top_mm=20), Grading(h_mm=h, largest_mm=h))
    wide = 0.1
    setting = Setting(
        metal=pure(wide), mould=plain_mould(), melt_K=POUR, mould_K=WALL, around_K=WALL,
        outside=(Face(), Face(), Face(h_W_m2K=1e12)),
    )  # fmt: skip
    z = cells.centre_mm[:, 2].astype(float)
    care = Care(growth=growth, enough_K=1e-3, first_s=4e-4 * h * h)
    found = freeze(cells, setting, (MELTS, MELTS - wide / 2, MELTS - wide), care=care, until=z < 7)
    some = (z > 1) & (z < 7)
    return found.passed_s[1][some] / _neumann_s(z[some]) - 1, found


def _neumann_s(z_mm: Floats) -> Floats:
    """Carslaw & Jaeger, section 11.2: k and a differ in solid and liquid, rho c does not."""
    from scipy.optimize import brentq
    from scipy.special import erf, erfc

    a_solid, a_liquid = (k / (RHO * CP) * 1e6 for k in (K_SOLID, K_LIQUID))
    stefan = CP * (MELTS - WALL) / LATENT

    def lacking(x: float) -> float:
        ratio = math.sqrt(a_solid / a_liquid)
        hot = (K_LIQUID / K_SOLID) * ratio * (POUR - MELTS) / (MELTS - WALL)
        warm = hot * math.exp(-((x * ratio) ** 2)) / erfc(x * ratio)
        return float(math.exp(-x * x) / erf(x) - warm - x * math.sqrt(math.pi) / stefan)

    x = brentq(lacking, 0.01, 2)
    return np.asarray((z_mm / (2 * x)) ** 2 / a_solid)


def errors_of_contact(h: float, growth: float) -> tuple[Floats, Frozen]:
    """Metal at its melting point on an endless mould, against the similarity solution, for 100 s."""
    wide = 1e-3
    setting = Setting(metal=pure(wide), mould=plain_mould(), melt_K=MELTS, mould_K=WALL)
    z, passed, found = front(setting, wide, h, growth)
    return passed / contact_s_mm2(K_SOLID, RHO * CP, RHO * LATENT, 0.40, 1.15e6, MELTS - WALL) / z**2 - 1, found


def front(setting: Setting, wide_K: float, h: float, growth: float) -> tuple[Floats, Floats, Frozen]:
    """How deep the front is when, in metal on an endless mould, within 100 s: at half the latent heat of each cell."""
    half = shapes.block(100, 100, 100).moved(np.eye(3), np.array([0, 0, 50.0]))
    cells = cells_of(half, Room(radius_mm=h, bottom_mm=-60, top_mm=30), Grading(h_mm=h, largest_mm=h))
    care = Care(growth=growth, enough_K=1e-3, first_s=growth * h * h / 0.35)
    melts = setting.melt_K
    found = freeze(cells, setting, (melts - 1e-9, melts - wide_K / 2, melts - wide_K), care=care, until_s=100.0)
    done = np.isfinite(found.passed_s[1])
    return cells.centre_mm[: cells.metal, 2][done].astype(float), found.passed_s[1][done], found


def contact_s_mm2(k: float, c: float, latent: float, k_mould: float, c_mould: float, apart_K: float) -> float:
    """Time over the squared depth of the front; W/mK, J/m3K, J/m3.

    Carslaw & Jaeger, section 11.2: solid metal and mould each with an error function, the liquid at rest.
    """
    from scipy.optimize import brentq
    from scipy.special import erf

    more = math.sqrt(k * c / (k_mould * c_mould))
    stefan = c * apart_K / latent
    x = brentq(lambda x: x * math.exp(x * x) * (more + erf(x)) - stefan / math.sqrt(math.pi), 1e-5, 1)
    return 1 / (4 * x * x * k / c * 1e6)


def gold_in_gypsum(mould_K: float = GOLD_MOULD, k: float = 1e4, range_K: float = 0.2) -> Setting:
    """18 ct gold at its melting point in a gypsum mould, as the worked figures have them.

    Those are for metal of one temperature: ``k`` is a hundred times the true one, which makes a ball of 2 mm take 7 %
    longer.
    """
    heat = Reaction(from_K=GOLD_MELTS - range_K, to_K=GOLD_MELTS, J_m3=14600 * 76e3)
    metal = substance([GOLD_MELTS - range_K, GOLD_MELTS], [k, k], [14600 * 210.0] * 2, [heat])
    return Setting(metal=metal, mould=plain_mould(0.45, 1190 * 1050.0), melt_K=GOLD_MELTS, mould_K=mould_K)


def frozen_s(mesh: Mesh, room: Room, h: float, growth: float, setting: Setting | None = None) -> tuple[Floats, Frozen]:
    """When the cells of a small solid of gold are solid, and the whole; the mesh is moved off the lattice."""
    cells = cells_of(mesh.moved(np.eye(3), np.array([0.123, 0.071, 0.039]) * h), room, Grading(h_mm=h))
    marks = (GOLD_MELTS - 0.02, GOLD_MELTS - 0.1, GOLD_MELTS - 0.2)
    found = freeze(cells, setting or gold_in_gypsum(), marks, care=Care(growth=growth))
    return found.passed_s[2], found


def ball_s(radius: float, h: float, growth: float) -> tuple[Floats, Frozen]:
    """A ball in a large mould."""
    wide = radius + 11
    return frozen_s(shapes.ball(radius), Room(radius_mm=wide, bottom_mm=-wide, top_mm=wide), h, growth)


def wire_s(radius: float, h: float, growth: float) -> tuple[Floats, Frozen]:
    """A round wire through a large mould, upright."""
    room = Room(radius_mm=radius + 11, bottom_mm=-1.6, top_mm=1.6)
    return frozen_s(shapes.rod(radius, 40.0, 160), room, h, growth)
