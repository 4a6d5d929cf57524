"""The piece measured: hole, band, weight and frame, however the model is turned; remarks that go away when mended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ringwright.science import solids, sweeps
from ringwright.steps.piece import measure, read, starter, weigh
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body, Floats, Mesh, Role
from ringwright.terms.commission import SeatBrief, StarterBrief, State
from ringwright.terms.mistake import BadInput
from ringwright.terms.piece import Drawn, Placement, UnitsFrom, seat_axes
from ringwright.terms.quantity import Estimate, described, figures_of
from ringwright.terms.remark import Level
from tests.science.test_solids import ball, rotation
from tests.steps.model_files import RING, block, stl, stone
from tests.steps.piece_facts import LIMITS, PROPORTIONS
from tests.steps.test_piece_starter import room


def model(mesh: Mesh, *stones: Mesh, seats: tuple[SeatBrief, ...] = ()) -> Drawn:
    bodies = (Body("ring", Role.METAL, mesh), *(Body(f"stone {k}", Role.STONE, s) for k, s in enumerate(stones)))
    return Drawn(name="ring.stl", format="STL", units="mm", units_from=UnitsFrom.DECLARED, bodies=bodies, seats=seats)


def turned(drawn: Drawn, turn: Floats, shift: Floats) -> Drawn:
    """The model as another modeller would have placed it, with the 32-bit coordinates of an STL."""
    moved = drawn.metal.moved(turn, shift)
    return model(Mesh(moved.vertices_mm.astype(np.float32).astype(np.float64), moved.faces))


def alloy(key: str, density: float) -> Alloy:
    one = Estimate(1.0, 0.1)
    return Alloy(
        key=key, title=key, metal="gold", colour="yellow", composition={"Au": 100.0}, fineness_permille=999.0,
        density_g_cm3=Estimate(density, 0.05), ideal_density_g_cm3=density, liquid_density_g_cm3=density,
        solidus_C=1000, liquidus_C=1000, cp_solid_J_kgK=1, cp_liquid_J_kgK=1, latent_kJ_kg=1, k_solid_W_mK=1,
        k_liquid_W_mK=1,
        freezing_shrinkage_percent=1, mean_expansion_per_MK=1, viscosity_mPas=1, surface_tension_N_m=1, youngs_GPa=1,
        poisson=0.4, yield_cast_MPa=one, yield_annealed_MPa=one, elongation_percent=1, hardness_HV=1,
    )  # fmt: skip


STARTERS = {
    "plain band": (StarterBrief(shape="band", section="flat", width_mm=4.0, thickness_mm=1.6), "flat"),
    "wide comfort band": (StarterBrief(shape="band", section="court", width_mm=9.0, thickness_mm=2.0), "comfort"),
    "knife-like oval band": (StarterBrief(shape="band", section="oval", width_mm=2.0, thickness_mm=2.4), "flat"),
    "solitaire": (StarterBrief(shape="solitaire"), "flat"),
    "bezel": (StarterBrief(shape="bezel", width_mm=3.0), "comfort"),
    "signet": (StarterBrief(shape="signet", width_mm=4.0, thickness_mm=1.6), "flat"),
}


@pytest.mark.parametrize("name", STARTERS)
def test_the_hole_is_found_however_the_model_is_turned(name: str) -> None:
    """Turned and shifted twice, in 32-bit coordinates: within 0.02 mm is asked, within 0.002 mm is kept."""
    brief, inside = STARTERS[name]
    rng = np.random.default_rng(len(name))
    for k in range(2):
        diameter = float(rng.uniform(14.0, 22.0))
        stone_room = room() if brief.shape in ("solitaire", "bezel") else None
        drawn = starter(brief, diameter, PROPORTIONS, inside=inside, stone=stone_room)
        turn, shift = rotation(10 * len(name) + k), rng.uniform(-50.0, 50.0, 3)
        piece, outcome = measure(turned(drawn, turn, shift), (), LIMITS, ordered_diameter_mm=diameter)
        assert piece.hole.diameter_mm == pytest.approx(diameter, abs=0.002)
        assert piece.hole.mean_diameter_mm == pytest.approx(diameter, abs=0.002)
        assert piece.hole.roundness_mm < 0.002
        assert abs(np.array(piece.hole.axis) @ turn[:, 2]) > 1.0 - 1e-6
        assert piece.hole.centre_mm == pytest.approx(shift, abs=0.003)
        assert outcome.result.volume_mm3 == pytest.approx(solids.volume(drawn.metal), rel=1e-5)
        rounded = inside == "comfort" or brief.section in ("court", "oval")
        assert piece.hole.profile == ("comfort" if rounded else "flat")
        if brief.shape != "band":
            head = piece.placement.turned(turn @ np.array([0.0, 1.0, 0.0]))
            assert head == pytest.approx([0.0, 1.0, 0.0], abs=1e-3), "the head is up again"
            assert piece.band_width_mm == pytest.approx(brief.width_mm, abs=0.02)
            assert piece.band_thickness_mm == pytest.approx(brief.thickness_mm, abs=0.005)


def test_the_placement_takes_the_model_into_the_frame_and_back() -> None:
    drawn = starter(StarterBrief(shape="signet", width_mm=4.0), 17.3, PROPORTIONS)
    moved = turned(drawn, rotation(5), np.array([7.0, -8.0, 9.0]))
    piece, _ = measure(moved, (), LIMITS)
    matrix = piece.placement.matrix
    assert matrix @ matrix.T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    assert piece.placement.to_ring(moved.metal.vertices_mm) == pytest.approx(piece.metal.vertices_mm)
    assert piece.placement.to_model(piece.metal.vertices_mm) == pytest.approx(moved.metal.vertices_mm)
    low, high = solids.bounds(piece.metal)
    assert high + low == pytest.approx([0.0, high[1] + low[1], 0.0], abs=0.01), "the origin lies in the hole's centre"
    assert high[1] == pytest.approx(8.65 + 2.2, abs=0.01)


def test_seats_and_stones_come_along() -> None:
    """A seat's axes turn with the model; the stone's pose in the ring's frame is the same however the model lies."""
    drawn = starter(StarterBrief(shape="solitaire"), 17.3, PROPORTIONS, stone=room(7.0, 5.0))
    piece, _ = measure(drawn, (), LIMITS)
    turn, shift = rotation(8), np.array([3.0, 30.0, -7.0])
    there = Placement(tuple((float(a), float(b), float(c)) for a, b, c in turn), (3.0, 30.0, -7.0))  # type: ignore[arg-type]
    gem = stone(7.0, 5.0).moved(seat_axes(drawn.seats[0]), np.array(drawn.seats[0].at_mm))
    moved = model(drawn.metal.moved(turn, shift), gem.moved(turn, shift), seats=(there.seat(drawn.seats[0]),))
    again, outcome = measure(moved, (), LIMITS)
    # along the finger the frame has two ways round: z may point either way
    flip = np.diag([np.sign(again.placement.turned(turn @ np.array([0.0, 0.0, 1.0]))[2]), 1.0, 1.0])
    flip[2, 2] = flip[0, 0]
    assert again.seats[0].at_mm == pytest.approx(flip @ np.array(piece.seats[0].at_mm), abs=1e-3)
    assert seat_axes(again.seats[0]) == pytest.approx(flip @ seat_axes(piece.seats[0]), abs=1e-4)
    assert outcome.result.stones == ("stone 0",)
    assert solids.mass_properties(again.stones[0].mesh).centroid_mm == pytest.approx(
        solids.mass_properties(gem).centroid_mm @ flip.T, abs=1e-3
    )
    assert outcome.result.height_mm > 5.0


def test_given_seats_follow_those_of_the_model() -> None:
    seat = SeatBrief(at_mm=(0.0, 12.0, 0.0), facing=(0.0, 1.0, 0.0), turn_deg=30.0)
    piece, _ = measure(model(RING), (), LIMITS, seats=(seat,))
    assert piece.seats[0].at_mm == pytest.approx((0.0, 12.0, 0.0))
    assert piece.seats[0].turn_deg == pytest.approx(30.0)


def test_the_weight_is_volume_times_density_in_every_alloy() -> None:
    alloys = (alloy("a", 15.45), alloy("b", 10.36))
    weight = weigh(model(RING), alloys)
    volume = np.pi * (10.25**2 - 8.65**2) * 3.0
    assert weight.volume_mm3 == pytest.approx(volume, rel=1e-3)
    assert weight.mass_g == pytest.approx({"a": volume * 0.01545, "b": volume * 0.01036}, rel=1e-3)
    assert weight.mass_spread_g["a"] == pytest.approx(volume * 5e-5, rel=1e-3)
    assert weight.area_mm2 == pytest.approx(2 * np.pi * (10.25**2 - 8.65**2) + 2 * np.pi * 18.9 * 3.0, rel=1e-3)
    _, outcome = measure(model(RING), alloys, LIMITS)
    assert outcome.result.mass_g == weight.mass_g


def test_moments_are_those_of_a_ring() -> None:
    """A tube about z: volume times half of (R² + r²)."""
    _, outcome = measure(model(RING), (), LIMITS)
    figures = outcome.result
    about_z = figures.volume_mm3 * (10.25**2 + 8.65**2) / 2.0
    across = figures.volume_mm3 * (3.0 * (10.25**2 + 8.65**2) + 9.0) / 12.0
    assert figures.inertia_mm5 == pytest.approx((across, across, about_z), rel=1e-3)
    assert figures.off_axis_mm == pytest.approx(0.0, abs=1e-9)
    assert figures.extent_mm == pytest.approx((20.5, 20.5, 3.0), abs=1e-6)
    assert figures.height_mm == pytest.approx(1.6)
    assert figures.closed


@pytest.mark.parametrize(
    ("ordered", "level"),
    [
        (17.3, Level.FINE),
        (17.44, Level.FINE),
        (17.5, Level.HEED),
        (17.1, Level.HEED),
        (17.75, Level.HALT),
        (16.8, Level.HALT),
    ],
)
def test_the_drawn_size_is_compared_with_the_ordered_one(ordered: float, level: Level) -> None:
    """Half an ISO step is 0.5 mm of circumference, a letter 1.25 mm."""
    _, outcome = measure(model(RING), (), LIMITS, ordered_diameter_mm=ordered)
    (remark,) = [r for r in outcome.remarks if r.kind == "size"]
    assert remark.level is level
    assert remark.figure == pytest.approx(np.pi * abs(17.3 - ordered), abs=1e-6)
    assert remark.limit_source
    if level is not Level.FINE:
        assert ("narrower" if ordered > 17.3 else "wider") in remark.says
        changed = model(RING.moved(np.diag([ordered / 17.3, ordered / 17.3, 1.0]), np.zeros(3)))
        _, again = measure(changed, (), LIMITS, ordered_diameter_mm=ordered)
        assert again.verdict is Level.FINE, "drawn as the remark says, it goes away"


def test_a_pattern_is_not_held_to_the_finished_size() -> None:
    _, outcome = measure(model(RING), (), LIMITS, ordered_diameter_mm=16.0, state=State.PATTERN)
    (remark,) = [r for r in outcome.remarks if r.kind == "size"]
    assert remark.level is Level.FINE
    assert "drawn as pattern" in remark.says


def test_a_hole_out_of_round_is_told_and_measured() -> None:
    oval = RING.moved(np.diag([1.0, 1.04, 1.0]), np.zeros(3))
    piece, outcome = measure(model(oval), (), LIMITS)
    assert piece.hole.diameter_mm == pytest.approx(17.3, abs=0.01)
    assert piece.hole.roundness_mm == pytest.approx(8.65 * 0.04, abs=0.02)
    assert piece.hole.mean_diameter_mm == pytest.approx(17.3 * 1.02, abs=0.03)
    assert [r.kind for r in outcome.remarks if r.level is Level.HEED] == ["roundness"]
    _, mended = measure(model(oval.moved(np.diag([1.0, 1 / 1.04, 1.0]), np.zeros(3))), (), LIMITS)
    assert mended.verdict is Level.FINE


def test_a_hole_of_few_facets_is_told() -> None:
    section = np.array([[8.65, -1.5], [10.25, -1.5], [10.25, 1.5], [8.65, 1.5]])
    piece, outcome = measure(model(sweeps.revolved(section, 18)), (), LIMITS)
    assert piece.hole.diameter_mm == pytest.approx(17.3, abs=1e-4)
    assert piece.hole.facet_diameter_mm == pytest.approx(17.3 * np.cos(np.pi / 18), abs=1e-4)
    assert [r.kind for r in outcome.remarks if r.level is Level.HEED] == ["facets"]


def test_a_ring_may_be_open_and_says_so() -> None:
    wedge = sweeps.prism(np.array([[0.0, 0.0], [40.0, 14.0], [40.0, -14.0]]), -5.0, 5.0)
    piece, outcome = measure(model(solids.without(RING, [wedge])), (), LIMITS)
    assert piece.hole.diameter_mm == pytest.approx(17.3, abs=0.01)
    assert piece.hole.open_percent == pytest.approx(100 * 38.6 / 360, abs=0.6)
    assert "opening" in {r.kind for r in outcome.remarks}


def test_a_flat_inside_with_rounded_edges_is_flat() -> None:
    drawn = starter(StarterBrief(shape="band", section="flat", width_mm=2.5, thickness_mm=1.6), 17.3, PROPORTIONS)
    piece, _ = measure(drawn, (), LIMITS)
    assert piece.hole.profile == "flat"


def test_a_model_without_a_hole_is_told_and_can_still_be_weighed() -> None:
    lump = model(ball(5.0, 40))
    with pytest.raises(BadInput) as told:
        measure(lump, (), LIMITS)
    assert str(told.value).startswith("ring.stl: no finger hole was found")
    assert weigh(lump, (alloy("a", 10.0),)).mass_g["a"] == pytest.approx(5.236, rel=0.02)


def test_a_hole_that_no_finger_has_is_told() -> None:
    _, outcome = measure(model(RING.scaled(3.0)), (), LIMITS)
    (remark,) = [r for r in outcome.remarks if r.kind == "hole"]
    assert remark.level is Level.HEED
    assert remark.limit == 26.0


def test_the_head_is_where_the_mass_is_else_the_highest_place_else_as_drawn() -> None:
    heavy = solids.united([RING, block(4.0, 3.0, 3.0, (11.0, 0.0, 0.0))])
    piece, _ = measure(model(heavy), (), LIMITS)
    assert piece.placement.turned(np.array([1.0, 0.0, 0.0])) == pytest.approx([0.0, 1.0, 0.0], abs=1e-3)
    # a thin mast on one side, the same mass inside a broader place opposite: balanced, but higher on one side
    mast, pad = block(0.5, 6.0, 0.5, (0.0, 12.5, 0.0)), block(1.3, 0.9, 1.0, (0.0, -10.6, 0.0))
    piece, outcome = measure(model(solids.united([RING, mast, pad])), (), LIMITS)
    assert outcome.result.off_axis_mm < 0.01 * 8.65
    assert piece.placement.turned(np.array([0.0, 1.0, 0.0])) == pytest.approx([0.0, 1.0, 0.0], abs=1e-3)
    upright = model(RING.moved(np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]]), np.zeros(3)))
    plain, _ = measure(upright, (), LIMITS)
    assert plain.placement.turned(np.array([0.0, 1.0, 0.0])) == pytest.approx([0.0, 1.0, 0.0], abs=1e-6)
    assert plain.metal == measure(upright, (), LIMITS)[0].metal


def test_the_main_stone_says_where_the_head_is() -> None:
    """A shoulder on one side shifts the mass; the stone still stands at the top."""
    gem = stone().moved(np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]]), np.array([0.0, 14.0, 0.0]))
    lopsided = solids.united([RING, block(3.0, 3.0, 3.0, (7.0, 9.0, 0.0))])
    with_stone, _ = measure(model(lopsided, gem), (), LIMITS)
    assert with_stone.placement.turned(np.array([0.0, 1.0, 0.0])) == pytest.approx([0.0, 1.0, 0.0], abs=1e-3)
    alone, _ = measure(model(lopsided), (), LIMITS)
    assert alone.placement.turned(np.array([0.0, 1.0, 0.0]))[1] < 0.9


def test_remarks_of_the_reader_are_kept_and_figures_described() -> None:
    drawn = read(stl(RING), ".stl", None, "ring.stl", LIMITS)
    piece, outcome = measure(drawn, (), LIMITS)
    assert outcome.step == "piece"
    assert {r.kind for r in outcome.remarks} == {"units"}
    assert outcome.bodies == piece.bodies
    names = set(described(type(outcome.result)))
    assert {"units", "closed", "mended", "volume_mm3", "area_mm2", "mass_g", "hole_diameter_mm"} <= names
    assert {shown.name for shown in figures_of(outcome.result)} == names - {"ordered_diameter_mm"}
    assert replace(outcome.result, ordered_diameter_mm=17.0).ordered_diameter_mm == 17.0
