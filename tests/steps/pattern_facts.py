"""The tables that pattern and tree need, and the pattern of a ring with a plain workshop."""

from __future__ import annotations

from typing import Any

from ringwright.steps import pattern
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Mesh
from ringwright.terms.commission import State
from ringwright.terms.facts import used
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.workshop import Habits, Printer
from tests.steps.metal_facts import resolve
from tests.tables import tables

FACTS = tables("investments", "resins", "contraction", "stock", "print_rules")
GYPSUM = used(FACTS.investments, "gypsum")
PRINTER = Printer(
    name="small vat",
    plate_length_mm=120,
    plate_width_mm=68,
    height_mm=150,
    layer_mm=0.05,
    layer_s=8,
    resin="castable-resin",
)


def gold() -> Alloy:
    return resolve("18k-3n").result


def prepare(ring: Mesh, hole_mm: float, state: State = State.FINISHED, **more: Any) -> Outcome[PatternFigures]:
    given: dict[str, Any] = {
        "alloy": gold(),
        "investment": GYPSUM,
        "flask_C": 520.0,
        "habits": Habits(),
        "printers": (PRINTER,),
        "resins": FACTS.resins,
        "contraction": FACTS.contraction,
        "stock": FACTS.stock,
        "rules": FACTS.print_rules[0],
        "size_step_mm": 1.0,
    }
    return pattern.prepare(ring, hole_diameter_mm=hole_mm, state=state, **(given | more))
