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
