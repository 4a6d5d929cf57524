"""Ordinal findings of published casting experiments: which way things go, not by how much."""

from __future__ import annotations

from dataclasses import replace

from ringwright.steps.pour import _cast
from ringwright.steps.pour._pass import lowest_tenth, reserve_percent
from ringwright.steps.pour._thermal import ground, thermal
from ringwright.steps.pour._window import fill_s
from tests.agrees import agrees
from tests.steps.pour_facts import ROWS, alloy, cells, flowing, hot, investment, piece, tree

COILS = "Journal of Dental Materials and Devices 3(6): castability of coils against the mould's permeability"
PLATINUM = "Miller and others, Platinum Metals Review 49 (2005) 174"
GRID = "Actis Grande and others, Santa Fe Symposium: filling of filigree (abstract)"
FILIGREE = "Klotz & Drago, Platinum Metals Review 55 (2011) 20"


def true(found: bool, what: str, source: str) -> None:
    """A finding that is true or not."""
    agrees(float(found), 1.0, within=0.01, source=source, what=what)


def test_a_more_permeable_mould_helps_vacuum_and_centrifuge() -> None:
    tight = replace(investment(), permeability_m2=2e-15)
    for plant, how in ((None, "vacuum"), (hot(), "centrifuge")):
        open_, closed = flowing(plant=plant), flowing(powder=tight, plant=plant)
        quick, slow = open_.fill(500, 970), closed.fill(500, 970)
        true(
            fill_s(open_.cavity, quick) < fill_s(closed.cavity, slow),
            f"{how}: a more permeable mould fills sooner",
            COILS,
        )
        true(
            reserve_percent(open_.cavity, quick) > reserve_percent(closed.cavity, slow),
            f"{how}: and with more heat left",
            COILS,
        )


def test_a_cooler_mould_is_the_better_side_for_porosity() -> None:
    job = _cast._Job(
        alloy=alloy("pt950-ru"),
        investment=investment("silica"),
        plant=hot(),
        rows=ROWS,
        pieces=(piece(),),
        perforated=False,
        most_GB=2.0,
    )
    made = cells("solitaire", 0.25)
    mould = _cast._mould(job, tree().result)
    basis = ground(made, mould, most_GB=2.0)
    own = made.in_piece
    cool, warm = (thermal(basis, mould, flask, 1900.0) for flask in (500.0, 940.0))
    figure = [lowest_tenth(run.niyama[own], made.network.volume_mm3[own]) for run in (cool, warm)]
    true(
        figure[0] > figure[1],
        "platinum: the cooler the mould the higher Niyama's figure, that is the less porosity by its rank",
        PLATINUM,
    )
    true(cool.solid_s[own].max() < warm.solid_s[own].max(), "platinum: and the sooner it is solid", PLATINUM)


def test_hotter_flasks_fill_platinum_better() -> None:
    flow = flowing(key="pt950-ru", powder="silica", plant=hot())
    left = [reserve_percent(flow.cavity, flow.fill(c, 1900)) for c in (500, 650, 800, 950)]
    true(left == sorted(left), "platinum: thin parts fill better from a hotter flask", FILIGREE)


def test_cobalt_fills_where_ruthenium_does_not() -> None:
    """At every flask the alloy with cobalt, as far above its own liquidus, has more heat left in thin parts."""
    for flask_C in (100.0, 400.0, 800.0):
        left = {}
        for key in ("pt950-co", "pt950-ru"):
            flow = flowing("small", key=key, powder="silica", plant=hot())
            left[key] = reserve_percent(flow.cavity, flow.fill(flask_C, alloy(key).liquidus_C + 110.0))
        true(
            left["pt950-co"] > left["pt950-ru"], f"flask {flask_C:.0f} °C: cobalt fills better than ruthenium", FILIGREE
        )


def test_filling_of_filigree_takes_about_as_long_as_its_freezing() -> None:
    """A round wire of half a millimetre in a mould at 500 °C, by the exact law of wires, and a small ring's filling."""
    wire_s = 1.653 * (0.25 / 1.0) ** 2  # the exact time of a wire of 1 mm radius, times go as its square
    flow = flowing("small")
    fill = fill_s(flow.cavity, flow.fill(500.0, 970.0))
    true(0.1 < fill / wire_s < 10.0, "times of filling and of freezing are of the same order", GRID)
