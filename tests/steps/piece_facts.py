"""The rows of the facts that `piece` takes, for its tests."""

from __future__ import annotations

import tomllib
from importlib.resources import files

from ringwright.facts import read, shipped
from ringwright.terms.facts import Facts


def piece_facts() -> Facts:
    """Only the tables of this step, so that a fault in another table is told by that table's own tests."""
    bounds = tomllib.loads((files("ringwright.facts") / "bounds.toml").read_text("utf-8"))
    names = ("piece_limits.toml", "starter_proportions.toml")
    return read({name: (shipped() / name).read_text("utf-8") for name in names}, bounds)


FACTS = piece_facts()
LIMITS = FACTS.piece_limits
PROPORTIONS = FACTS.starter_proportions
