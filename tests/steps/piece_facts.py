"""The rows of the facts that `piece` takes, for its tests."""

from __future__ import annotations

from tests.tables import tables

FACTS = tables("piece_limits", "starter_proportions")
LIMITS = FACTS.piece_limits
PROPORTIONS = FACTS.starter_proportions
