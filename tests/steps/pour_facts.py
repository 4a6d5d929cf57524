"""What the tests of the pour share: its tables, trees of plain rings, and the flow into them without any freezing."""

from __future__ import annotations

from functools import cache
from typing import Any

from ringwright.steps import pour
from ringwright.steps.pour._cavity import Cavity, cavity
from ringwright.steps.pour._pass import Flow, flow
from ringwright.terms.alloy import Alloy
from ringwright.terms.facts import used
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import PourFigures
from ringwright.terms.tree import InvestmentFact, TreeFigures, TreePiece
from ringwright.terms.workshop import Casting, CastingPlant, Habits
from tests.steps import tree_facts
from tests.steps.metal_facts import resolve
from tests.steps.solids import band, solitaire
from tests.tables import tables

FACTS = tables(
    "pour_classes",
    "flask_temperatures",
    "melt_temperatures",
    "pour_limits",
    "casting_experiments",
    "burnout_heat",
    "elements",
    "investments",
)
ROWS = pour.rows_of(FACTS)


@cache
def alloy(key: str = "18k-3n") -> Alloy:
    return resolve(key).result


def investment(key: str = "gypsum") -> InvestmentFact:
    return used(FACTS.investments, key, "investment")


@cache
def piece(shape: str = "solitaire") -> TreePiece:
    if shape == "solitaire":
        return tree_facts.piece(solitaire(), 17.0, name="ring")
    ring, hole = (band(17.3, 6.0, 3.2), 17.3) if shape == "heavy" else (band(14.0, 1.6, 1.5, 128), 14.0)
    return tree_facts.piece(ring, hole, name="ring")


@cache
def tree(shape: str = "solitaire") -> Outcome[TreeFigures]:
    return tree_facts.build(piece(shape))


@cache
def cells(shape: str = "solitaire", h_mm: float = 0.4) -> Cavity:
    grown = tree(shape)
    return cavity(grown.body("tree").mesh, grown.result, (piece(shape),), h_mm)


def flowing(
    shape: str = "solitaire",
    key: str = "18k-3n",
    powder: str | InvestmentFact = "gypsum",
    plant: CastingPlant | None = None,
    *,
    perforated: bool = False,
) -> Flow:
    return flow(
        cells(shape),
        alloy(key),
        investment(powder) if isinstance(powder, str) else powder,
        plant or CastingPlant(),
        ROWS,
        perforated=perforated,
    )


def hot(method: Casting = Casting.CENTRIFUGAL) -> CastingPlant:
    return CastingPlant(method=method, max_metal_C=2100.0)


def cast(shape: str = "solitaire", **more: Any) -> Outcome[PourFigures]:
    grown = tree(shape)
    given: dict[str, Any] = {
        "alloy": alloy(),
        "investment": investment(),
        "plant": CastingPlant(),
        "habits": Habits(),
        "rows": ROWS,
    }
    return pour.cast(grown.body("tree").mesh, grown.result, [piece(shape)], **(given | more))
