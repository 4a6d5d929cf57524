"""The rings that several benchmarks use."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ringwright.terms.body import Mesh
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


TRIANGLES = 200_000
"""A ring as a modeller writes it out finely."""


def split(mesh: Mesh) -> Mesh:
    """The same solid, its triangles split until there are :data:`TRIANGLES`."""
    from ringwright.science.solids import from_manifold, to_manifold

    solid, edge_mm = to_manifold(mesh), 0.6
    while True:
        fine = from_manifold(solid.refine_to_length(edge_mm))
        if len(fine.faces) >= TRIANGLES:
            return fine
        edge_mm *= 0.85
