"""How exact the first steps are: starter volumes, the hole however it is turned, round stones, the core of a mould."""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks import Bar, Measured, benchmark
from benchmarks.rings import solitaire

_TURNS = 24
_RADIUS_MM = 8.65


@benchmark(Bar("starter-volume", "%", 0.1))
def starter_volume() -> Iterator[Measured]:
    """The volume of closed starter shapes (bands and signets of every section) against their closed forms."""
    import math

    from ringwright import facts
    from ringwright.science import solids
    from ringwright.steps import piece
    from ringwright.terms.commission import StarterBrief
    from tests.steps import starter_volumes as exact

    rows = facts.load().starter_proportions
    known = exact.Rows(rows)
    worst, where = 0.0, ""
    for section in ("flat", "D", "court", "oval"):
        for inside in ("flat", "comfort"):
            for shape in ("band", "signet"):
                brief = StarterBrief(shape=shape, section=section, width_mm=3.0, thickness_mm=1.7)
                drawn = piece.starter(brief, 2 * _RADIUS_MM, rows, inside=inside)
                should = getattr(exact, shape)(brief, _RADIUS_MM, inside == "comfort", known)
                off = 100.0 * abs(solids.volume(drawn.metal) / should - 1.0)
                if off > worst:
                    worst, where = off, f"{shape}, section {section}, inside {inside}"
    assert math.isfinite(worst)
    yield Measured("starter-volume", worst, f"worst of 16 closed shapes against their closed form: {where}")


@benchmark(Bar("hole-turned", "mm", 0.02))
def hole_turned() -> Iterator[Measured]:
    """The finger hole of a solitaire turned and moved at random, against the hole that it was made with."""
    import numpy as np
    from scipy.spatial.transform import Rotation

    from ringwright import facts
    from ringwright.steps import piece
    from ringwright.terms.body import Body, Role
    from ringwright.terms.piece import Drawn, UnitsFrom

    shipped = facts.load()
    drawn = solitaire(shipped, 2 * _RADIUS_MM)
    turns = Rotation.random(_TURNS, random_state=7)
    shifts = np.random.default_rng(7).normal(scale=40.0, size=(_TURNS, 3))
    worst = 0.0
    for turn, shift in zip(turns, shifts, strict=True):
        moved = Drawn(
            name="turned", format="STL", units="mm", units_from=UnitsFrom.DECLARED,
            bodies=(Body("ring", Role.METAL, drawn.metal.moved(turn.as_matrix(), shift)),),
        )  # fmt: skip
        found, _ = piece.measure(moved, (), shipped.piece_limits)
        worst = max(worst, abs(found.hole.diameter_mm - 2 * _RADIUS_MM))
    yield Measured("hole-turned", worst, f"worst of {_TURNS} random turns and moves of a solitaire starter")


@benchmark(Bar("round-mass", "%", 2.0))
def round_mass() -> Iterator[Measured]:
    """The mass of a round brilliant by its solid against the published diameter tables, where those agree."""
    from ringwright import facts
    from ringwright.steps import gems
    from ringwright.terms.facts import used

    shipped = facts.load()
    cut, diamond = used(shipped.cuts, "round brilliant"), used(shipped.gem_materials, "diamond")
    rows = [row for row in shipped.round_diameters if row.agrees_with_cube_law]
    off = [100.0 * abs(gems.round_mass_ct(row.diameter_mm, cut, diamond) / row.mass_ct - 1.0) for row in rows]
    yield Measured(
        "round-mass", max(off),
        f"worst of {len(rows)} published diameters that keep the cube law; usual proportions of the cut's row",
    )  # fmt: skip


@benchmark(Bar("burnout-core", "%", 2.0))
def burnout_core() -> Iterator[Measured]:
    """The core of a flask against the series of a finite cylinder with constant properties."""
    from ringwright import facts
    from ringwright.steps import burnout
    from ringwright.terms.facts import used

    gypsum = used(facts.load().investments, "gypsum")
    sizes = ((64.0, 64.0), (89.0, 102.0), (102.0, 203.0))
    off = [
        100.0 * burnout.core_against_series(gypsum, diameter_mm=d, height_mm=h, h_W_m2K=h_wall, hours=6.0)
        for d, h in sizes
        for h_wall in (20.0, 40.0)
    ]
    yield Measured("burnout-core", max(off), "worst miss of the core, in percent of the kiln's step, three flasks")
