"""The step whole: settings, what comes of them, what it says, what it refuses."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.spatial import cKDTree

from ringwright.papers.voxelfiles import vti
from ringwright.steps.pour import Finished
from ringwright.steps.pour._finished import cells_of
from ringwright.terms.body import Mesh
from ringwright.terms.mistake import BadInput, ComputingFault, Stopped
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import PourFigures, Reading, ThermocoupleLog, Variant
from ringwright.terms.quantity import figures_of
from ringwright.terms.remark import Level, Point
from ringwright.terms.workshop import Casting, CastingPlant, Habits
from tests.steps.pour_facts import alloy, cast, cells, hot, investment, piece, tree


@cache
def plain() -> Outcome[PourFigures]:
    return cast(habits=Habits(flask_C=620, superheat_C=85))


def kinds(outcome: Outcome[PourFigures], kind: str) -> list[object]:
    return [r for r in outcome.remarks if r.kind == kind]


def test_it_proposes_a_setting_and_says_why() -> None:
    found = plain().result
    assert found.alloy_class == "gold"
    assert found.chosen.verdict == "sound"
    assert 480 <= found.flask_C <= 540
    assert 56 <= found.superheat_C <= 111
    assert found.flask_at_pour_C < found.flask_C
    assert found.flask_skin_C < found.flask_at_pour_C
    assert "spread" in found.why
    assert any(c.verdict != "sound" for c in found.window)
    assert len({c.flask_C for c in found.window}) >= 6
    assert len({c.melt_C for c in found.window}) >= 4


def test_the_habit_is_set_beside() -> None:
    found = plain().result
    assert found.habit is not None
    assert found.habit.flask_C == 620
    assert found.habit.melt_C == alloy().liquidus_C + 85
    assert found.habit.frozen_s > found.frozen_s
    (said,) = (r for r in plain().remarks if r.kind == "habit")
    assert "620 °C" in said.says


def test_times_are_in_their_order() -> None:
    found = plain().result
    assert 0 < found.fill_s < found.frozen_s
    assert found.first_frozen_s <= found.frozen_s <= found.tree_frozen_s
    # A 1.8 mm shank in gypsum at some 500 °C: a round one freezes in about one and a half seconds.
    assert 0.8 < found.frozen_s < 6
    assert found.cooling_K_s > 0


def test_a_head_far_from_its_gate_is_cut_off_and_told_with_its_place() -> None:
    """The gate of this ring is at the bottom of its shank; the heavy head freezes last, behind a thin shank."""
    found = plain()
    pores = [r for r in found.remarks if r.kind == "pore"]
    assert pores
    worst = pores[0]
    assert "head" in worst.place
    assert worst.point_mm is not None
    assert worst.point_mm[1] > 8
    assert worst.level in (Level.HEED, Level.HALT)
    assert "gate" in worst.change
    zone = found.result.pores[0]
    assert zone.cut_off_s < zone.frozen_s
    assert found.result.pore_mm3 == pytest.approx(sum(z.pore_mm3 for z in found.result.pores), rel=0.1)


def test_heat_is_kept_and_the_map_agrees_with_the_run() -> None:
    for residual in plain().residuals:
        assert abs(residual.value) <= residual.bound, residual.name


def test_fields_lie_on_the_tree_and_voxels_make_a_file() -> None:
    found = plain()
    mesh = found.body("tree").mesh
    assert {f.name for f in found.fields} == {"freeze", "fill", "heat-left", "pore-risk", "niyama"}
    for field in found.fields:
        assert field.body == "tree"
        assert field.values.shape == (len(mesh.vertices_mm),)
        # The button is not waited for; all of the ring has its figure.
        assert np.isfinite(field.values[cells().in_piece[cells().of_vertex]]).all(), field.name
    data = vti(found.voxels)
    assert data.startswith(b"<?xml")
    fill = next(v for v in found.voxels if v.name == "fill")
    assert np.isfinite(fill.values).sum() == cells().network.count


def test_fields_lie_on_the_finished_ring_too_each_figure_that_of_the_nearest_cell_of_the_piece() -> None:
    made, grown = cells(), tree()
    (pose,) = grown.result.poses
    # The pattern is the finished ring with stock, and larger by its contraction; a vertex far inside is on it too.
    mesh = piece().pattern
    stands = Mesh(np.concatenate([mesh.vertices_mm / 1.015 * 0.99, [[0.0, -9.9, 0.0]]]), mesh.faces)
    finished = Finished(piece="ring", body="ring", mesh=stands, scale=1.015)
    which = cells_of(made, finished)
    own = np.flatnonzero(made.in_piece)
    at = pose.to_flask(stands.vertices_mm * 1.015)
    assert np.isin(which, own).all()
    away = np.linalg.norm(made.network.centre_mm[which] - at, axis=1)
    best = cKDTree(made.network.centre_mm[own]).query(at)[0]
    assert (away <= best + 0.9 * made.h_mm).all() and np.median(away - best) < 0.1 * made.h_mm
    found = cast(finished=(finished,), h_mm=0.4)
    on_ring = {f.name: f for f in found.fields if f.body == "ring"}
    assert set(on_ring) == {"ring-freeze", "ring-fill", "ring-pore-risk"}
    on_tree = {f.name: f for f in found.fields if f.body == "tree"}
    for name, field in on_ring.items():
        assert field.values.shape == (len(stands.vertices_mm),) and np.isfinite(field.values).all()
        other = on_tree[name.removeprefix("ring-")]
        assert (field.unit, field.low_is_bad) == (other.unit, other.low_is_bad) and field.title != other.title
    # What is not fed is at the head, on the ring as on the tree.
    worst = stands.vertices_mm[np.argmax(on_ring["ring-pore-risk"].values)]
    assert worst[1] > 7
    assert not any(f.body == "ring" for f in plain().fields)


def test_every_figure_is_described() -> None:
    shown = {s.name for s in figures_of(plain().result)}
    assert {"flask_C", "melt_C", "fill_s", "frozen_s", "window", "chosen", "measured"} <= shown
    assert "No measured freezing time" in plain().result.measured
    assert kinds(plain(), "unmeasured")
    assert {"molten-metal", "hot-flask", "silica-dust", "sulfur-dioxide", "vacuum"} <= set(plain().result.cautions)


def test_a_heavy_ring_in_a_hot_flask_gets_a_notice_and_in_a_cool_one_none() -> None:
    warm = cast("heavy", flask_C=620.0, melt_C=975.0)
    cool = cast("heavy", flask_C=480.0, melt_C=975.0)
    (said,) = (r for r in warm.remarks if r.kind == "flask-practice")
    assert said.level is Level.HEED
    assert said.limit is not None
    assert said.limit < 620
    assert "650" in said.says or "540" in said.says
    assert not kinds(cool, "flask-practice")
    assert warm.result.frozen_s > 1.5 * cool.result.frozen_s


def test_ruthenium_platinum_below_800_is_warned_and_cobalt_is_not() -> None:
    """Thin walls: ruthenium fills them poorly below 800 °C, cobalt down to 100 °C (a published experiment)."""
    from ringwright.terms.pour import CastingExperimentFact
    from tests.steps.pour_facts import ROWS

    # The claws of this ring are 1.0 mm; the experiment's walls are told as thinner than 1.2 mm here.
    rows = replace(
        ROWS,
        experiments=tuple(
            replace(r, section_to_mm=1.2) if isinstance(r, CastingExperimentFact) and r.alloy else r
            for r in ROWS.experiments
        ),
    )
    given = {"investment": investment("silica"), "plant": hot(), "rows": rows, "flask_C": 700.0}
    ruthenium = cast(alloy=alloy("pt950-ru"), melt_C=1900.0, **given)
    cobalt = cast(alloy=alloy("pt950-co"), melt_C=1870.0, **given)
    (said,) = (r for r in ruthenium.remarks if r.kind == "experiment")
    assert said.level is Level.HEED
    assert said.limit == 800
    (fine,) = (r for r in cobalt.remarks if r.kind == "experiment")
    assert fine.level is Level.FINE


def test_a_melt_that_the_powder_hardly_bears_is_told() -> None:
    found = cast(alloy=alloy("22k-yellow"), flask_C=600.0, melt_C=1175.0)
    (said,) = (r for r in found.remarks if r.kind == "mould-heat")
    assert said.level is Level.HEED
    assert said.limit == 1150


def log(*readings: tuple[float, float], at_mm: Point = (0.0, -(8.5 + 0.9), 0.0)) -> ThermocoupleLog:
    return ThermocoupleLog(at_mm=at_mm, readings=tuple(Reading(time_s=t, reads_C=c) for t, c in readings))


def test_the_shops_own_thermocouple_is_set_beside_the_computed_cooling() -> None:
    """A log that falls by 30 K/s passes each temperature at a known time; one one slower is told so."""
    forecast = plain().result
    quick = [(float(t), 950.0 - 30 * t) for t in range(12)]
    slow = [(20.0 * t, c) for t, c in quick]
    at = {"flask_C": forecast.flask_C, "melt_C": forecast.melt_C}
    found = cast(logs=[log(*quick), log(*slow)], **at)
    one, other = found.result.compared
    assert one.where.startswith("ring: bottom of the shank")
    assert one.liquidus_s == pytest.approx((950 - alloy().liquidus_C) / 30)
    assert one.solidus_s == pytest.approx((950 - alloy().solidus_C) / 30)
    assert one.liquidus_s < one.stops_s < one.solidus_s
    assert one.forecast_liquidus_s < one.forecast_stops_s < one.forecast_solidus_s
    assert one.ratio == pytest.approx(one.solidus_s / one.forecast_solidus_s)
    assert other.ratio == pytest.approx(20 * one.ratio)
    assert other.freezing_ratio == pytest.approx(20 * one.freezing_ratio)
    said = [r for r in found.remarks if r.kind == "thermocouple"]
    assert [r.level for r in said][1] is Level.HEED
    assert "later than computed" in said[1].says
    assert "No measured freezing time" in found.result.measured


def test_a_log_that_ends_before_the_solidus_says_so() -> None:
    forecast = plain().result
    found = cast(logs=[log((0, 950), (1, 900))], flask_C=forecast.flask_C, melt_C=forecast.melt_C)
    (one,) = found.result.compared
    assert (one.solidus_s, one.ratio, one.freezing_ratio) == (None, None, None)
    (said,) = (r for r in found.remarks if r.kind == "thermocouple")
    assert said.level is Level.FINE
    assert "ends before" in said.says


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"melt_C": 890.0}, "890 °C is not above the liquidus"),
        ({"flask_C": 890.0, "investment": investment("silica")}, "890 °C is not below the solidus"),
        ({"flask_C": 800.0}, "above what the binder"),
        ({"habits": Habits(flask_C=800)}, "above what the binder"),
        ({"melt_C": 1210.0, "plant": CastingPlant(max_metal_C=1500)}, "destroys"),
        ({"melt_C": 1180.0, "plant": CastingPlant(max_metal_C=1100)}, "more than the plant reaches"),
        ({"h_mm": 0.8}, r"cells of 0\.8 mm are too coarse for .* on ring \(.*head.*at most 0\.\d\d mm"),
        ({"most_GB": 0.01}, r"would need 0\.\d\d GB for freezing, more than 0\.01 GB; .* mm or more"),
        ({"logs": [log((3, 900), (2, 800))]}, "2 s does not follow 3 s"),
        ({"logs": [log((3, 900), (4, 800), at_mm=(0.0, 0.0, 0.0))]}, "off the metal"),
        ({"logs": [log((3, 500), (4, 300))]}, "its hottest reading, 500 °C, is below the solidus"),
    ],
)
def test_bad_input_is_told_in_one_sentence(more: dict[str, object], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        cast(**more)


def test_metal_too_thin_for_any_cells_is_told_with_its_place_and_what_would_do() -> None:
    """Here by asking for so many cells across the thinnest part that none are fine enough."""
    from tests.steps.pour_facts import ROWS

    limits = tuple(replace(r, figure=25.0) if r.key == "cells across" else r for r in ROWS.limits)
    with pytest.raises(
        BadInput, match=r"cells of 0\.4 mm are too coarse for .* on ring \(.*; metal of 2\.5 mm or more"
    ):
        cast(rows=replace(ROWS, limits=limits))


def test_it_is_stopped_from_outside() -> None:
    def stop(share: float, doing: str) -> None:
        if share > 0.05:
            raise Stopped

    with pytest.raises(Stopped):
        cast(progress=stop)


def test_crumbs_that_do_not_hang_together_are_a_fault() -> None:
    from ringwright.steps.pour._cavity import cavity
    from tests.steps.pour_facts import piece
    from tests.steps.solids import band, box, united

    grown = tree()
    lone = united(band(), box((30, 30, 0), (40, 40, 10)))
    with pytest.raises(ComputingFault, match="do not hang together"):
        cavity(lone, grown.result, (piece(),), 0.5)


def test_gravity_alone_says_what_it_does_not_fill() -> None:
    found = cast(plant=CastingPlant(method=Casting.GRAVITY))
    assert found.result.edge_mm > 0.1
    assert found.result.drive_kPa < 15


def test_other_ways_are_set_beside_by_filling_alone() -> None:
    """The tree names them, its own first; the figures of that one are near to those of the whole tree."""
    found = plain().result
    ways = tree().result.ways
    assert [one.what for one in found.variants] == [way.what for way in ways]
    assert len(ways) > 3
    assert all(one.judged_by == "filling alone" and one.pore_mm3 is None for one in found.variants)
    own = found.variants[0]
    assert own.reserve_low_percent < own.reserve_percent
    # Begun at the gate, the metal is not yet cooled by the sprue.
    assert found.reserve_percent <= own.reserve_percent <= found.reserve_percent + 15
    assert own.marks_mm2 == pytest.approx(np.pi / 4 * own.sprue_diameter_mm**2)
    (said,) = (r for r in plain().remarks if r.kind == "ways")
    assert "--thorough" in said.says


def test_a_tree_is_judged_by_freezing() -> None:
    """Led in at the head nothing of it is cut off; from the bottom of the shank it is, in coarse cells as in fine."""
    from ringwright.steps import pour
    from tests.steps import tree_facts
    from tests.steps.pour_facts import ROWS, piece

    at = {"flask_C": 500.0, "melt_C": 965.0, "h_mm": 0.6, "alloy": alloy(), "investment": investment()}
    ways = tree().result.ways
    judged = []
    for way in (ways[0], next(way for way in ways if way.what == "one gate at the head")):
        made = tree_facts.build(piece(), way=way)
        assert made.result.gates[0].point_mm == pytest.approx(way.gates_mm[0], abs=0.05)
        led = pour.Led(what=way.what, tree=made.body("tree").mesh, figures=made.result, way=way)
        judged.append(pour.judge(led, [piece()], plant=CastingPlant(), rows=ROWS, **at))
    bottom, head = judged
    assert head.ball_mm == head.pore_mm3 == 0
    assert bottom.ball_mm == pytest.approx(plain().result.pores[0].ball_mm, rel=0.25)
    assert bottom.charge_g == pytest.approx(tree().result.charge_g)
    at, why = pour.best(judged, ROWS)
    assert at == 1
    assert "less of it freezes cut off from feed" in why


def way(what: str, *, left: float = 60.0, ball: float = 0.0, marks: float = 7.0, charge: float = 9.0) -> Variant:
    return Variant(
        what=what,
        judged_by="told",
        gates=1,
        sprue_diameter_mm=3.0,
        sprue_length_mm=10.0,
        marks_mm2=marks,
        mark_counts=0.5,
        flask_C=500.0,
        melt_C=965.0,
        reserve_percent=left + 2,
        reserve_low_percent=left,
        pore_mm3=np.pi / 6 * ball**3,
        ball_mm=ball,
        charge_g=charge,
    )


@pytest.mark.parametrize(
    ("other", "chosen", "because"),
    [
        ({"left": -5.0}, 0, "more heat to spare"),
        ({"left": 40.0}, 0, "more than the reckoning can tell"),
        ({"ball": 0.6, "left": 70.0}, 0, "less of it freezes cut off"),
        ({"marks": 3.0}, 1, "less to cut off and clean"),
        ({"marks": 6.8}, 0, "more than the reckoning can tell"),
        ({"charge": 7.0}, 1, "less metal to melt"),
        ({"charge": 11.0}, 0, "less metal to melt"),
    ],
)
def test_the_best_way_fills_then_is_fed_then_leaves_least_to_clean(
    other: dict[str, float], chosen: int, because: str
) -> None:
    from ringwright.steps import pour
    from tests.steps.pour_facts import ROWS

    at, why = pour.best([way("the first"), way("the other", **other)], ROWS)
    assert at == chosen
    assert because in why
    assert why.startswith("The other" if chosen else "The first")
    assert pour.best([way("the first")], ROWS) == (0, pour.best([way("the first")], ROWS)[1])
    assert "Nothing else" in pour.best([way("the first")], ROWS)[1]


def test_a_smaller_pore_counts_only_beyond_what_coarse_cells_leave_open() -> None:
    from ringwright.steps import pour
    from tests.steps.pour_facts import ROWS

    assert pour.best([way("a", ball=1.0), way("b", ball=0.8)], ROWS)[0] == 0
    assert pour.best([way("a", ball=1.0), way("b", ball=0.7)], ROWS)[0] == 1
    # Of two that are hard to fill, the one that fills.
    assert pour.best([way("a", left=-5.0), way("b", left=22.0)], ROWS)[0] == 1


def test_thorough_reckons_finer_and_maps_the_edge() -> None:
    rough, found = cast("small", h_mm=0.6).result, cast("small", h_mm=0.6, thorough=True).result
    assert found.h_mm == pytest.approx(rough.h_mm / 2)
    assert len(found.window) >= 77
    assert found.frozen_s == pytest.approx(rough.frozen_s, rel=0.1)


def test_a_cold_mould_and_a_cold_melt_leave_too_little_heat_and_it_says_where_and_what_to_do() -> None:
    found = cast(flask_C=30.0, melt_C=900.0)
    (said,) = (r for r in found.remarks if r.kind == "misrun")
    assert said.level in (Level.HEED, Level.HALT)
    assert said.figure is not None
    assert said.figure < 25
    assert said.place.startswith("ring: head")
    assert said.point_mm is not None
    assert said.change.startswith("a hotter flask before a hotter melt")
    assert said.limit_source
    assert found.result.chosen.verdict in ("misrun", "near misrun")
    assert not kinds(found, "fills")
