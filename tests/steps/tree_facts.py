"""The tree of a pattern with a plain workshop."""

from __future__ import annotations

from typing import Any

from ringwright.steps import tree
from ringwright.terms.body import Mesh
from ringwright.terms.outcome import Outcome
from ringwright.terms.tree import TreeFigures, TreePiece
from ringwright.terms.workshop import Casting, Crucible, Flask, Habits
from tests.steps.pattern_facts import GYPSUM, gold
from tests.tables import tables

FACTS = tables("sprue_rules", "flask_clearances", "casting_losses", "crucible_rules", "powder_rules", "investments")
FLASKS = (
    Flask(name="small", diameter_mm=51, height_mm=64),
    Flask(name="medium", diameter_mm=64, height_mm=76),
    Flask(name="large", diameter_mm=89, height_mm=102, perforated=True),
)
CRUCIBLES = (
    Crucible(name="little", capacity_cm3=3.0, material="silica"),
    Crucible(name="big", capacity_cm3=12.0, max_C=1500, material="silica"),
)


def piece(mesh: Mesh, hole_mm: float, name: str = "ring", **more: Any) -> TreePiece:
    return TreePiece(name=name, pattern=mesh, hole_diameter_mm=hole_mm, **more)


def build(*pieces: TreePiece, **more: Any) -> Outcome[TreeFigures]:
    given: dict[str, Any] = {
        "alloy": gold(),
        "investment": GYPSUM,
        "melt_C": 980.0,
        "habits": Habits(),
        "flasks": FLASKS,
        "crucibles": CRUCIBLES,
        "casting": Casting.VACUUM,
        "rules": FACTS.sprue_rules,
        "clearances": FACTS.flask_clearances,
        "losses": FACTS.casting_losses,
        "crucible_rules": FACTS.crucible_rules,
        "powder_rules": FACTS.powder_rules,
    }
    return tree.build(pieces, **(given | more))
