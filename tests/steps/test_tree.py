"""The tree: gates, sprues, button, flask, mould, charge, and what is said of them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.science.solids import gap, is_closed, shells
from ringwright.steps import tree
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level
from ringwright.terms.tree import TreeFigures
from ringwright.terms.workshop import Casting, Crucible, Flask, Habits
from tests.steps import solids
from tests.steps.metal_facts import resolve
from tests.steps.pattern_facts import GYPSUM, gold
from tests.steps.tree_facts import CRUCIBLES, FACTS, FLASKS, build, piece

BAND = solids.band(17.3, 2.5, 1.5)
SOLITAIRE = solids.solitaire(17.0)


@pytest.fixture(scope="module")
def band() -> Outcome[TreeFigures]:
    return build(piece(BAND, 17.3))


@pytest.fixture(scope="module")
def wide() -> Outcome[TreeFigures]:
    return build(piece(solids.band(17.3, 6.5, 1.9), 17.3))


def kinds(outcome: Outcome[TreeFigures]) -> dict[str, Level]:
    return {r.kind: r.level for r in outcome.remarks}


def test_a_light_band_has_one_gate_at_its_bottom(band: Outcome[TreeFigures]) -> None:
    (gate,) = band.result.gates
    assert gate.point_mm == pytest.approx((0.0, -17.3 / 2 - 1.5, 0.0), abs=0.01)
    assert gate.outward == pytest.approx((0.0, -1.0, 0.0), abs=0.01)
    assert gate.ball_mm == pytest.approx(1.5, abs=0.1)
    assert band.result.stem_diameter_mm is None


def test_the_tree_is_one_closed_solid_of_the_volumes_told(band: Outcome[TreeFigures]) -> None:
    r, solid = band.result, band.body("tree").mesh
    assert is_closed(solid) and len(shells(solid)) == 1
    assert solids.volume(solid) == pytest.approx(r.pieces_mm3 + r.sprues_mm3 + r.button_mm3, rel=1e-9)
    assert r.pieces_mm3 == pytest.approx(solids.volume(BAND), rel=1e-9)
    # One straight sprue with its foot: between the bare bar and the bar with a foot as long as it is wide.
    bar = math.pi * (r.sprue_diameter_mm / 2) ** 2 * r.sprue_length_mm
    assert bar * 0.98 < r.sprues_mm3 < bar + math.pi * (r.sprue_diameter_mm / 2 + r.fillet_mm) ** 2 * 2
    # The button is a cone frustum of 45 degrees on the sprue.
    small, large = r.sprue_diameter_mm / 2, r.button_diameter_mm / 2
    assert large - small == pytest.approx(r.button_height_mm)
    cone = math.pi * r.button_height_mm * (small**2 + small * large + large**2) / 3
    assert r.button_mm3 == pytest.approx(cone, rel=1e-9)
    assert r.button_mm3 == pytest.approx(0.5 * (r.pieces_mm3 + r.sprues_mm3), rel=1e-3)


def test_the_pose_brings_the_ring_to_where_it_is_in_the_tree(band: Outcome[TreeFigures]) -> None:
    (pose,), solid = band.result.poses, band.body("tree").mesh
    assert pose.matrix @ pose.matrix.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(pose.matrix) == pytest.approx(1.0)
    there = pose.to_flask(BAND.vertices_mm)
    assert pose.to_ring(there) == pytest.approx(BAND.vertices_mm, abs=1e-9)
    assert there[:, 2].min() == pytest.approx(solid.vertices_mm[:, 2].min(), abs=1e-6)
    gate = pose.to_flask(np.array(band.result.gates[0].point_mm))
    assert gate[:2] == pytest.approx((0.0, 0.0), abs=1e-9)
    r = band.result
    assert gate[2] == pytest.approx(-(r.button_top_mm + r.button_height_mm + r.sprue_length_mm), abs=1e-6)


def test_the_clearances_are_those_of_the_solid(band: Outcome[TreeFigures], wide: Outcome[TreeFigures]) -> None:
    for found in (band, wide):
        r, at = found.result, found.body("tree").mesh.vertices_mm
        radius = np.hypot(at[:, 0], at[:, 1]).max()
        assert r.wall_clearance_mm == pytest.approx(r.flask_diameter_mm / 2 - radius)
        assert r.wall_clearance_mm >= 6.4
        assert r.end_clearance_mm == pytest.approx(r.flask_height_mm + at[:, 2].min())
        assert r.end_clearance_mm >= 12.5
        assert at[:, 2].max() == pytest.approx(-3.0)


def test_sprue_freezes_after_the_heaviest_part(band: Outcome[TreeFigures], wide: Outcome[TreeFigures]) -> None:
    for found in (band, wide):
        r = found.result
        assert r.sprue_modulus_mm == pytest.approx(r.sprue_diameter_mm / 4)
        assert r.sprue_modulus_mm >= 1.15 * r.piece_modulus_mm
        assert r.sprue_diameter_mm >= 1.25 * r.heaviest_ball_mm - 1e-9
    # A flat band: area of the section over its perimeter.
    section = 2.5 * 1.5 / (2 * (2.5 + 1.5))
    assert section < band.result.piece_modulus_mm < 1.1 * section


def test_modulus_of_a_round_bar_and_a_plate() -> None:
    from ringwright.steps.tree.heavy import modulus_mm

    bar = solids.rod((0, 0, -20), (0, 0, 20), 1.0, 96)
    assert 0.5 < modulus_mm(bar, np.zeros(3), 2.0) < 0.5 * 1.05
    plate = solids.box((-20, -20, -0.6), (20, 20, 0.6))
    assert 0.6 < modulus_mm(plate, np.zeros(3), 1.2) < 0.6 * 1.09


def test_a_wide_band_has_two_even_gates_and_a_fork(wide: Outcome[TreeFigures]) -> None:
    r = wide.result
    a, b = r.gates
    assert a.point_mm[0] == pytest.approx(-b.point_mm[0], abs=0.3)
    angle = math.degrees(math.acos(np.dot(a.outward, b.outward)))
    assert 50 <= angle <= 90
    assert r.stem_diameter_mm is not None
    assert r.stem_diameter_mm**2 >= 2 * r.sprue_diameter_mm**2 - 1e-6 or r.stem_diameter_mm == 10.0
    assert "heavy-cut-off" not in kinds(wide)


def test_no_sprue_stands_in_the_finger_hole(wide: Outcome[TreeFigures]) -> None:
    ring = wide.result.poses[0].to_ring(wide.body("tree").mesh.vertices_mm)
    inside = ring[np.abs(ring[:, 2]) < 3.24]
    assert np.hypot(inside[:, 0], inside[:, 1]).min() > 17.3 / 2 * 0.999


def test_a_solitaire_is_gated_away_from_its_stone() -> None:
    top = 17.0 / 2 + 4.5
    stone = solids.turned([(0.0001, -1.5), (2.4, 0.0), (0.0001, 1.5)], 32)
    stone = stone.moved(np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]), np.array([0.0, top, 0.0]))
    found = build(piece(SOLITAIRE, 17.0, stones=(stone,)))
    assert found.result.gates[0].point_mm[1] < -8
    own = build(
        piece(SOLITAIRE, 17.0, stones=(stone,), gates_mm=((1.9, 12.3, 1.9),)),
        flasks=(Flask(name="x", diameter_mm=100, height_mm=120),),
    )
    assert kinds(own)["gate-at-stone"] is Level.HEED


def test_a_signet_is_not_gated_on_its_face() -> None:
    found = build(piece(solids.signet(19.0), 19.0))
    for gate in found.result.gates:
        assert gate.outward[1] < 0.7
        assert gate.point_mm[1] > 5.0  # at the heavy head, not at the thin shank


def dumb_bell() -> solids.Mesh:
    """A ring with a heavy block at its bottom and one at its head, and thin shanks between."""
    shank = solids.band(17.0, 2.0, 1.0)
    return solids.united(shank, solids.box((-2, -13, -2), (2, -8.6, 2)), solids.box((-2.2, 8.6, -2.2), (2.2, 13, 2.2)))


def test_a_heavy_place_behind_a_thin_way_is_told_with_its_point() -> None:
    found = build(piece(dumb_bell(), 17.0))
    remark = next(r for r in found.remarks if r.kind == "heavy-cut-off")
    assert remark.level is Level.HEED and remark.point_mm is not None
    gate = found.result.gates[0].point_mm
    assert remark.point_mm[1] * gate[1] < 0  # the other block
    # Thickening the way takes the remark away.
    thick = solids.united(dumb_bell(), solids.band(17.0, 4.4, 4.0))
    assert "heavy-cut-off" not in kinds(build(piece(thick, 17.0)))


def test_the_makers_own_gate_is_used() -> None:
    found = build(piece(BAND, 17.3, gates_mm=((17.3 / 2 + 1.5, 0.0, 0.0),)))
    (gate,) = found.result.gates
    assert gate.why == "the maker's own"
    assert gate.outward == pytest.approx((1.0, 0.0, 0.0), abs=0.05)


def test_a_gate_in_the_finger_hole_is_heeded() -> None:
    found = build(piece(BAND, 17.3, gates_mm=((0.0, -17.3 / 2, 0.0),)))
    assert kinds(found)["gate-in-hole"] is Level.HEED


def test_gates_off_the_metal_are_all_told() -> None:
    with pytest.raises(BadInput) as told:
        build(piece(BAND, 17.3, gates_mm=((0.0, 0.0, 0.0), (0.0, -10.1, 0.0), (0.0, -14.0, 0.0))))
    assert len(told.value.mistakes) == 2
    assert "8.6 mm off the metal" in str(told.value) and "tree.gates[3]: gate 3 of" in str(told.value)


def test_gates_that_no_fork_reaches() -> None:
    r = 17.3 / 2 + 1.5
    sides = ((9.4, 0.0, 1.25), (9.4, 0.0, -1.25))
    around = ((0.0, -r, 0.0), (0.0, r, 0.0), (r, 0.0, 0.0), (-r, 0.0, 0.0), *sides)
    with pytest.raises(BadInput, match="no fork reaches"):
        build(piece(BAND, 17.3, gates_mm=around))


def test_the_smallest_flask_that_will_do(band: Outcome[TreeFigures]) -> None:
    assert band.result.flask == "small"
    bigger = build(piece(BAND, 17.3), flasks=FLASKS[1:])
    assert bigger.result.flask == "medium"
    assert bigger.result.powder_g > band.result.powder_g
    none_left = build(piece(BAND, 17.3), flasks=(replace(FLASKS[0], count=0), FLASKS[2]))
    assert none_left.result.flask == "large"


def test_a_named_flask_too_small_names_one_that_would_do() -> None:
    tiny = Flask(name="tiny", diameter_mm=30, height_mm=40)
    with pytest.raises(BadInput) as told:
        build(piece(BAND, 17.3), flasks=(tiny, *FLASKS), flask="tiny")
    assert "'tiny' (30 × 40 mm) is too small" in str(told.value) and "'small' of the workshop would do" in str(
        told.value
    )
    with pytest.raises(BadInput, match="none that would do"):
        build(piece(BAND, 17.3), flasks=(tiny,), flask="tiny")
    with pytest.raises(BadInput, match="did you mean 'medium'"):
        build(piece(BAND, 17.3), flask="mediun")


def test_no_flask_at_all_halts_with_the_size_that_would_do() -> None:
    tiny = Flask(name="tiny", diameter_mm=30, height_mm=40)
    found = build(piece(BAND, 17.3), flasks=(tiny,))
    assert found.verdict is Level.HALT and found.result.flask is None
    made = Flask(name="made", diameter_mm=found.result.flask_diameter_mm, height_mm=found.result.flask_height_mm)
    assert build(piece(BAND, 17.3), flasks=(made,)).verdict is Level.FINE


def test_a_low_flask_shortens_the_sprue(band: Outcome[TreeFigures]) -> None:
    r = band.result
    low = Flask(name="low", diameter_mm=51, height_mm=math.ceil(r.flask_height_mm - r.end_clearance_mm + 12.5) - 2)
    found = build(piece(BAND, 17.3), flasks=(low,))
    assert found.result.sprue_length_mm == 6.0
    assert kinds(found)["sprue-shortened"] is Level.HEED


def test_powder_and_water(band: Outcome[TreeFigures]) -> None:
    r = band.result
    assert r.slurry_cm3 == pytest.approx(math.pi / 4 * 5.1**2 * 6.4 - r.tree_mm3 / 1000)
    assert r.powder_net_g == pytest.approx(r.slurry_cm3 / 0.815)
    assert r.powder_g == pytest.approx(1.15 * r.powder_net_g)
    assert r.water_g == pytest.approx(0.40 * r.powder_g)


@given(st.floats(20, 3000), st.floats(38, 42))
def test_slurry_is_powder_and_water(slurry: float, water: float) -> None:
    m = tree.mix(slurry, GYPSUM, water)
    assert m.powder_net_g * 0.415 + m.water_net_g == pytest.approx(slurry)
    assert m.powder_net_g + m.water_net_g == pytest.approx(slurry * GYPSUM.slurry_density_g_cm3(water))


@given(st.floats(20, 2000), st.floats(1, 500))
def test_a_larger_mould_takes_more_powder(slurry: float, more: float) -> None:
    assert tree.mix(slurry + more, GYPSUM).powder_g > tree.mix(slurry, GYPSUM).powder_g


def test_no_ratio_of_water_and_no_room() -> None:
    with pytest.raises(BadInput, match="water_per_100"):
        tree.mix(100.0, GYPSUM, 0.0)
    with pytest.raises(BadInput, match="larger than the tree"):
        tree.mix(-1.0, GYPSUM)


def test_the_charge_adds_up(band: Outcome[TreeFigures]) -> None:
    r, alloy = band.result, gold()
    assert r.pieces_g == pytest.approx(solids.volume(BAND) * alloy.density_g_cm3.value / 1000)
    assert r.charge_g == pytest.approx(r.pieces_g + r.sprues_g + r.button_g + r.loss_g)
    assert r.loss_g / r.charge_g == pytest.approx(0.005, abs=0.01 / r.charge_g)
    assert round(r.charge_g / 0.01) == pytest.approx(r.charge_g / 0.01, abs=1e-6)
    assert r.melt_cm3 == pytest.approx(r.charge_g / alloy.liquid_density_g_cm3)


@given(st.floats(10, 2000), st.floats(1, 1000), st.floats(0, 5))
def test_more_metal_and_more_loss_need_more_charge(volume: float, more: float, loss: float) -> None:
    alloy = gold()
    one = tree.charge(volume, 50, 100, alloy, loss, 0.0)
    assert tree.charge(volume + more, 50, 100, alloy, loss, 0.0).charge_g > one.charge_g
    assert tree.charge(volume, 50, 100, alloy, loss + 1, 0.0).charge_g > one.charge_g
    assert one.charge_g * (1 - loss / 100) == pytest.approx(one.pieces_g + one.sprues_g + one.button_g)


def test_the_crucible_must_hold_the_melt() -> None:
    thimble = Crucible(name="thimble", capacity_cm3=0.1)
    found = build(piece(BAND, 17.3), crucibles=(thimble,))
    remark = next(r for r in found.remarks if r.kind == "crucible")
    assert remark.level is Level.HALT and found.result.crucible is None
    assert remark.limit == 0.1 and f"{found.result.melt_cm3:.1f} cm³" in remark.change
    enough = Crucible(name="enough", capacity_cm3=found.result.melt_cm3 + 0.01)
    assert build(piece(BAND, 17.3), crucibles=(thimble, enough)).result.crucible == "enough"


def test_the_crucible_must_bear_the_heat_and_suit_the_metal() -> None:
    cool = build(piece(BAND, 17.3), crucibles=(Crucible(name="cool", capacity_cm3=9, max_C=900),))
    assert kinds(cool)["crucible-heat"] is Level.HALT
    graphite = Crucible(name="graphite", capacity_cm3=9, material="graphite")
    assert build(piece(BAND, 17.3), crucibles=(graphite,)).result.crucible == "graphite"
    nickel = replace(gold(), composition={"Au": 75.0, "Ni": 17.0, "Cu": 8.0})
    barred = build(piece(BAND, 17.3), crucibles=(graphite,), alloy=nickel, melt_C=1050.0)
    assert kinds(barred)["crucible-material"] is Level.HALT
    silica = build(piece(BAND, 17.3), crucibles=(graphite, *CRUCIBLES), alloy=nickel, melt_C=1050.0)
    assert silica.result.crucible == "little"
    assert kinds(build(piece(BAND, 17.3), crucibles=()))["crucible"] is Level.HALT


@pytest.mark.parametrize(
    ("melt_C", "binder", "level"),
    [
        (980.0, "gypsum", Level.FINE),
        (1175.0, "gypsum", Level.HEED),
        (1650.0, "gypsum", Level.HALT),
        (1900.0, "gypsum", Level.HALT),
        (1650.0, "phosphate", Level.HEED),
        (1480.0, "phosphate", Level.FINE),
        (1900.0, "silica", Level.FINE),
    ],
)
def test_what_heat_the_investment_bears(melt_C: float, binder: str, level: Level) -> None:
    hot = (Crucible(name="hot", capacity_cm3=9, max_C=2000),)
    found = build(piece(BAND, 17.3), melt_C=melt_C, investment=used(FACTS.investments, binder), crucibles=hot)
    remark = next(r for r in found.remarks if r.kind == "mould-heat")
    assert remark.level is level and remark.limit_source
    assert bool(remark.change) is (level is not Level.FINE)


def test_habits_that_starve_the_piece() -> None:
    starving = Habits(
        sprue_diameter_mm=1.5, button_share=0.1, sprue_length_mm=25.0, melt_loss_percent=4.0, water_per_100=50.0
    )
    found = build(piece(BAND, 17.3), habits=starving)
    for kind in ("sprue", "charge", "sprue-length", "melt-loss", "water"):
        remark = next(r for r in found.remarks if r.kind == kind)
        assert remark.level is Level.HEED and remark.limit is not None and remark.limit_source, kind
    thick = next(r for r in found.remarks if r.kind == "sprue").limit
    assert thick is not None
    fed = Habits(sprue_diameter_mm=math.ceil(thick * 10) / 10, button_share=0.4, melt_loss_percent=0.5)
    assert build(piece(BAND, 17.3), habits=fed).verdict is Level.FINE


def test_platinum_has_a_short_sprue() -> None:
    platinum = resolve("pt950-ru").result
    found = build(
        piece(BAND, 17.3),
        alloy=platinum,
        melt_C=1900.0,
        investment=used(FACTS.investments, "silica"),
        crucibles=(Crucible(name="hot", capacity_cm3=9, max_C=2000),),
    )
    assert found.result.sprue_length_mm == 8.0
    assert found.verdict is Level.FINE


def test_a_tall_solid_flask_under_vacuum() -> None:
    tall = Flask(name="tall", diameter_mm=89, height_mm=130)
    assert kinds(build(piece(BAND, 17.3), flasks=(tall,)))["flask-solid"] is Level.HEED
    pierced = replace(tall, perforated=True)
    assert "flask-solid" not in kinds(build(piece(BAND, 17.3), flasks=(pierced,)))
    assert "flask-solid" not in kinds(build(piece(BAND, 17.3), flasks=(tall,), casting=Casting.CENTRIFUGAL))


def test_several_pieces_hang_apart_the_heaviest_nearest_the_button() -> None:
    rings = [
        piece(solids.band(17.3, 2.0, 1.4, 96), 17.3, "light"),
        piece(solids.band(18.5, 2.6, 1.8, 96), 18.5, "heavy"),
        piece(solids.band(16.0, 2.0, 1.4, 96), 16.0, "lighter"),
    ]
    found = build(*rings)
    r = found.result
    assert r.pieces == ("light", "heavy", "lighter")
    moved = [p.pattern.moved(pose.matrix, np.array(pose.shift_mm)) for p, pose in zip(rings, r.poses, strict=True)]
    gaps = [gap(moved[i], moved[j], 50.0) for i, j in ((0, 1), (0, 2), (1, 2))]
    assert min(gaps) >= 4.0
    assert r.between_clearance_mm == pytest.approx(min(gaps), abs=0.5)
    tops = {p.name: m.vertices_mm[:, 2].max() for p, m in zip(rings, moved, strict=True)}
    assert tops["heavy"] >= max(tops.values()) - 0.5
    assert is_closed(found.body("tree").mesh) and len(shells(found.body("tree").mesh)) == 1
    assert r.pieces_mm3 == pytest.approx(sum(solids.volume(p.pattern) for p in rings), rel=1e-9)


def test_what_cannot_be_built() -> None:
    with pytest.raises(BadInput, match="no piece"):
        build()
    from ringwright.terms.body import Mesh

    with pytest.raises(BadInput, match="no volume"):
        build(piece(Mesh(BAND.vertices_mm, BAND.faces[:, ::-1]), 17.3))
    for habits, words in (
        (Habits(sprue_length_mm=0.0), "sprue_length"),
        (Habits(sprue_diameter_mm=-1.0), "sprue_diameter"),
        (Habits(button_share=0.0), "button_share"),
        (Habits(melt_loss_percent=80.0), "melt_loss"),
    ):
        with pytest.raises(BadInput, match=words):
            build(piece(BAND, 17.3), habits=habits)


def test_everything_is_a_figure_with_a_unit(band: Outcome[TreeFigures]) -> None:
    from ringwright.terms.quantity import figures_of

    shown = {one.name: one for one in figures_of(band.result)}
    assert {"charge_g", "powder_g", "sprue_diameter_mm", "flask"} <= set(shown)
    assert all(one.about.help for one in shown.values())
