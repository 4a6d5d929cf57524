"""The making: one commission worked through, one outcome a step."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

from ringwright.terms.alloy import Alloy
from ringwright.terms.bench import BenchPlan
from ringwright.terms.burnout import Programme
from ringwright.terms.commission import Commission
from ringwright.terms.facts import Facts
from ringwright.terms.finger import Fit
from ringwright.terms.gems import Gem
from ringwright.terms.mark import Marking
from ringwright.terms.metal import Recipe
from ringwright.terms.outcome import Outcome
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.piece import Piece, PieceFigures
from ringwright.terms.pour import NotPoured, PourFigures
from ringwright.terms.price import Quote
from ringwright.terms.quantity import Figure
from ringwright.terms.setting import SettingFigures
from ringwright.terms.tree import TreeFigures
from ringwright.terms.wear import WearFigures
from ringwright.terms.workshop import Workshop


@dataclass(frozen=True, kw_only=True)
class GemsFound:
    """All stones of the commission."""

    stones: Annotated[tuple[Gem, ...], Figure("", 0, "Stones, in the order of the commission")]


@dataclass(frozen=True, kw_only=True)
class MetalFound:
    """The alloy with all its figures, and the charge weighed out."""

    alloy: Annotated[Alloy, Figure("", 0, "The alloy")]
    recipe: Annotated[Recipe, Figure("", 0, "The charge")]


@dataclass(frozen=True, kw_only=True)
class Making:
    """One commission worked through. Each step stands under its own name, as in :mod:`ringwright.terms.order`.

    ``facts`` are the tables that it was worked with: the papers take cautions, titles and the law's words from them.
    """

    commission: Commission
    workshop: Workshop
    ring: Piece
    finger: Outcome[Fit]
    gems: Outcome[GemsFound]
    metal: Outcome[MetalFound]
    piece: Outcome[PieceFigures]
    setting: Outcome[SettingFigures]
    wear: Outcome[WearFigures]
    pattern: Outcome[PatternFigures]
    tree: Outcome[TreeFigures]
    burnout: Outcome[Programme]
    pour: Outcome[PourFigures | NotPoured]
    bench: Outcome[BenchPlan]
    mark: Outcome[Marking]
    price: Outcome[Quote]
    facts: Facts = field(default_factory=Facts)
