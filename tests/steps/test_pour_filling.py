"""Filling of whole trees: what is in the way, what helps, and which cells are where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ringwright.science.solids import area, volume
from ringwright.steps.pour import _bodies
from ringwright.steps.pour._cavity import cavity, head_Pa
from ringwright.steps.pour._pass import ball_mm, flow, judged, reserve_percent, tightest
from ringwright.steps.pour._window import fill_s
from ringwright.terms.mistake import BadInput
from ringwright.terms.workshop import Casting, CastingPlant
from tests.steps.pour_facts import ROWS, alloy, cells, flowing, hot, investment, piece, tree


def test_the_cells_hold_the_tree_and_its_piece() -> None:
    made = cells()
    mesh = tree().body("tree").mesh
    assert made.network.volume_mm3.sum() == pytest.approx(volume(mesh), rel=0.005)
    assert made.network.skin_mm2.sum() == pytest.approx(area(mesh), rel=1e-9)
    ring = made.network.volume_mm3[made.in_piece].sum()
    assert ring == pytest.approx(volume(piece().pattern), rel=0.06)
    top = made.network.centre_mm[made.source, 2]
    assert top.min() > made.network.centre_mm[:, 2].max() - made.h_mm


def test_the_walls_are_those_of_the_ring() -> None:
    made = cells()
    assert made.section_mm() == pytest.approx(1.8, abs=0.05)
    thin, cell = made.thin_mm["ring"]
    assert thin == pytest.approx(1.0, abs=0.12)
    assert "head" in made.place(cell)


def test_a_place_is_told_in_the_rings_own_frame() -> None:
    made = cells()
    own = np.flatnonzero(made.in_piece)
    points = np.array([made.point(int(c)) for c in own])
    highest = own[np.argmax(points[:, 1])]
    assert made.place(int(highest)).startswith("head")
    lowest = own[np.argmin(points[:, 1])]
    assert made.place(int(lowest)).startswith("bottom of the shank")
    assert made.place(int(np.flatnonzero(made.source)[0])) == "button"


def test_a_ring_fills_in_the_time_that_texts_give_for_rings() -> None:
    flow = flowing()
    run = flow.fill(530, 980)
    assert 0.05 < fill_s(flow.cavity, run) < 0.5
    assert np.isfinite(run.time_s).all()
    # The claws are reached last and the coldest of all.
    worst = tightest(flow.cavity, run)[0]
    assert worst.place.startswith("head")
    assert worst.wall_mm < 1.2
    assert worst.reserve_percent == pytest.approx(reserve_percent(flow.cavity, run))


def test_metal_cools_along_its_path() -> None:
    flow = flowing()
    run = flow.fill(530, 980)
    down = run.parent >= 0
    assert (run.heat_left[down] <= run.heat_left[run.parent[down]] + 1e-12).all()
    assert (run.time_s[down] >= run.time_s[run.parent[down]]).all()


def test_hotter_fills_better_and_colder_worse() -> None:
    flow = flowing()
    flasks = [reserve_percent(flow.cavity, flow.fill(c, 980)) for c in (100, 300, 500, 700)]
    melts = [reserve_percent(flow.cavity, flow.fill(500, c)) for c in (905, 940, 980, 1040)]
    assert flasks == sorted(flasks)
    assert melts == sorted(melts)
    assert flasks[0] < flasks[-1] - 5


def test_a_thin_section_misruns_where_a_thick_one_fills() -> None:
    """The same ring with its cells' channels a fifth as wide: a filigree does not fill from a cold mould."""
    from ringwright.steps.pour._pass import flow

    made = cells()
    fine = replace(made, wall_mm=made.wall_mm / 4)
    plain = flowing().fill(100, 930)
    given = (alloy(), investment(), CastingPlant(), ROWS)
    thin = flow(fine, *given, perforated=False).fill(100, 930)
    assert reserve_percent(made, plain) > 0
    assert reserve_percent(fine, thin) < 0


def test_no_vacuum_no_thin_wire() -> None:
    """By its head alone the metal does not get into what surface tension closes."""
    flow = flowing(plant=CastingPlant(method=Casting.GRAVITY))
    vacuum = flowing()
    edge = flow.liquid.edge_mm(flow.drive_Pa)
    assert edge > 0.15
    assert vacuum.liquid.edge_mm(vacuum.drive_Pa) < 0.03
    slow = fill_s(flow.cavity, flow.fill(530, 980))
    assert slow > fill_s(vacuum.cavity, vacuum.fill(530, 980))


def test_a_centrifuge_presses_more_than_the_head() -> None:
    made = cells()
    spun = head_Pa(made, 14000.0, CastingPlant(method=Casting.CENTRIFUGAL, rpm=400, arm_mm=250), 0)
    still = head_Pa(made, 14000.0, CastingPlant(method=Casting.GRAVITY), 0)
    assert spun[made.in_piece].mean() > 10 * still[made.in_piece].mean()
    quick = head_Pa(made, 14000.0, CastingPlant(method=Casting.CENTRIFUGAL, rpm=800, arm_mm=250), 0)
    assert quick[made.in_piece].mean() == pytest.approx(4 * spun[made.in_piece].mean(), rel=1e-9)


def test_a_perforated_flask_lets_the_gas_out() -> None:
    solid, open_ = flowing(), flowing(perforated=True)
    assert open_.shape_m > 1.2 * solid.shape_m


def test_the_mould_cools_from_the_skin_on_the_way_from_the_kiln() -> None:
    flask = _bodies.cooled(tree().result, investment(), 540, 45, ROWS.heat)
    assert 20 < flask.skin_C < 540 - 20
    assert 540 - 25 < flask.about_C < 540
    later = _bodies.cooled(tree().result, investment(), 540, 300, ROWS.heat)
    assert later.about_C < flask.about_C
    assert later.skin_C < flask.skin_C
    assert _bodies.cooled(tree().result, investment(), 540, 0, ROWS.heat).about_C == pytest.approx(540, abs=1e-6)


def test_a_cooled_flask_tells_the_temperature_at_a_place() -> None:
    flask = _bodies.cooled(tree().result, investment(), 540, 120, ROWS.heat)
    rows, columns = np.meshgrid(np.arange(len(flask.z_mm)), np.arange(len(flask.r_mm)), indexing="ij")
    z, r = flask.z_mm[rows.ravel()], flask.r_mm[columns.ravel()]
    middles = np.stack([0.6 * r, 0.8 * r, z], axis=1)
    assert np.allclose(flask.at_C(middles), flask.T_C.ravel())
    # Between two middles the mean of both, beyond the last one as there.
    between = np.array([[(flask.r_mm[3] + flask.r_mm[4]) / 2, 0.0, flask.z_mm[5]], [500.0, 0.0, 500.0]])
    assert flask.at_C(between) == pytest.approx([(flask.T_C[5, 3] + flask.T_C[5, 4]) / 2, flask.T_C[-1, -1]])
    out = flask.at_C(np.array([[x, 0.0, z.mean()] for x in np.linspace(0, flask.r_mm[-1], 9)]))
    assert (np.diff(out) < 0).all()


def test_the_share_of_solid_follows_the_lever_rule() -> None:
    sterling = alloy("ag925")
    high, low = sterling.liquidus_C, sterling.solidus_C
    at = np.array([high + 50, high, (high + low) / 2, low, low - 50])
    share = _bodies.solid_share(at, sterling, ROWS.elements)
    assert share[[0, 1]].tolist() == [0, 0]
    np.testing.assert_allclose(share[[3, 4]], 1, atol=1e-12)
    # Straight lines from 961.78 °C: more than half is solid half-way down.
    k = 1 - (high - low) / (961.78 - low)
    t = (high + low) / 2
    by_hand = (high - t) / ((961.78 - t) * (1 - k))
    assert share[2] == pytest.approx(by_hand, rel=1e-9)
    assert 0.55 < share[2] < 0.75
    for part in (0.2, 0.7):
        found = _bodies.solid_C(part, sterling, ROWS.elements)
        assert float(_bodies.solid_share(np.array([found]), sterling, ROWS.elements)[0]) == pytest.approx(
            part, abs=2e-3
        )


def test_the_metal_holds_the_heat_of_its_freezing() -> None:
    for key in ("18k-3n", "ag925", "pt950-ru"):
        metal, given = _bodies.metal(alloy(key), ROWS.elements), alloy(key)
        T = np.array([given.solidus_C, given.liquidus_C]) + 273.15
        H = np.interp(T, metal.T_K, metal.H_J_m3)
        sensible = (given.cp_solid_J_kgK + given.cp_liquid_J_kgK) / 2 * (given.liquidus_C - given.solidus_C)
        want = _bodies.metal_density(given) * (given.latent_kJ_kg * 1000 + sensible)
        assert H[1] - H[0] == pytest.approx(want, rel=0.03)


def test_slivers_do_not_judge() -> None:
    made = cells()
    mine = judged(made)
    assert (made.network.volume_mm3[mine] > 0.1 * made.h_mm**3).all()
    assert made.network.volume_mm3[mine].sum() > 0.95 * made.network.volume_mm3[made.in_piece].sum()


def test_the_ball_of_a_volume() -> None:
    assert ball_mm(np.pi / 6) == pytest.approx(1.0)


def test_cells_that_are_no_size_are_refused() -> None:
    grown = tree()
    with pytest.raises(BadInput, match=r"cells of 5 mm; 0\.1 to 0\.5 mm"):
        cavity(grown.body("tree").mesh, grown.result, (piece(),), 5.0)


def test_platinum_fills_in_a_centrifuge() -> None:
    flow = flowing(key="pt950-ru", powder="silica", plant=hot())
    assert reserve_percent(flow.cavity, flow.fill(870, 1900)) > 0


def test_a_brace_across_the_hole_is_part_of_the_tree_and_fills() -> None:
    """Printed inner braces keep a pattern round; they are metal like the rest."""
    from tests.steps import tree_facts
    from tests.steps.solids import band, rod, united

    braced = united(band(17.3, 2.4, 1.8, 128), rod((-9.0, 0.0, 0.0), (9.0, 0.0, 0.0), 0.7))
    one = tree_facts.piece(braced, 17.3, name="braced")
    grown = tree_facts.build(one)
    made = cavity(grown.body("tree").mesh, grown.result, (one,), 0.4)
    own = flow(made, alloy(), investment(), CastingPlant(), ROWS, perforated=False)
    pose = grown.result.poses[0]
    middle = int(np.argmin(np.linalg.norm(made.network.centre_mm - pose.to_flask(np.zeros(3)), axis=1)))
    assert made.name(middle) == "braced"
    assert made.wall_mm[middle] == pytest.approx(1.4, abs=0.15)
    run = own.fill(500.0, 970.0)
    assert 0 < run.time_s[middle] < run.time_s[made.in_piece].max()
    assert made.network.volume_mm3[made.in_piece].sum() == pytest.approx(volume(braced), rel=0.03)


def test_several_pieces_on_one_tree_fill_each_with_its_own_name_and_frame() -> None:
    from tests.steps import tree_facts
    from tests.steps.solids import band

    rings = [
        tree_facts.piece(band(17.3, 2.0, 1.4, 96), 17.3, name="light"),
        tree_facts.piece(band(18.5, 2.6, 1.8, 96), 18.5, name="heavy"),
    ]
    grown = tree_facts.build(*rings)
    made = cavity(grown.body("tree").mesh, grown.result, rings, 0.5)
    run = flow(made, alloy(), investment(), CastingPlant(), ROWS, perforated=False).fill(500.0, 970.0)
    for n, ring in enumerate(rings):
        mine = np.flatnonzero(made.piece == n)
        assert made.network.volume_mm3[mine].sum() == pytest.approx(volume(ring.pattern), rel=0.04)
        assert np.isfinite(run.time_s[mine]).all()
        x, y, _ = np.array([made.point(int(cell)) for cell in mine[::20]]).T
        assert np.abs(np.hypot(x, y) - ring.hole_diameter_mm / 2).max() < 2.4
        assert made.name(int(mine[0])) == ring.name
    assert set(made.thin_mm) == {"light", "heavy"}
