"""The ring that several benchmarks use."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ringwright.terms.facts import Facts
    from ringwright.terms.piece import Drawn


def solitaire(shipped: Facts, inner_diameter_mm: float) -> Drawn:
    """The starter shape with a round brilliant of 6.5 mm in claws."""
    from ringwright.steps import gems, piece
    from ringwright.terms.commission import StarterBrief, StoneBrief
    from ringwright.terms.piece import room_for

    brief = StoneBrief(name="main", cut="round brilliant", material="diamond", length_mm=6.5, depth_mm=3.95)
    room = room_for(gems.shape(brief, shipped.cuts))
    return piece.starter(StarterBrief(shape="solitaire"), inner_diameter_mm, shipped.starter_proportions, stone=room)
