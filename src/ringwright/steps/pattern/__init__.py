"""What size must the pattern be?

:func:`prepare` goes back from the ring as drawn to the pattern, writes it as a solid, goes forward again as a check,
and says which size the finished ring will have, with its spread. :func:`back` and :func:`forward` do the same for one
length along a :class:`Chain`.
"""

from ringwright.steps.pattern.chain import Chain, Stages, back, forward
from ringwright.steps.pattern.prepare import expansion_percent, prepare, turned_to_plate
from ringwright.steps.pattern.solid import closed_cavities, inscribed_hole_mm, stocked
from ringwright.steps.pattern.walls import with_wall

__all__ = [
    "Chain",
    "Stages",
    "back",
    "closed_cavities",
    "expansion_percent",
    "forward",
    "inscribed_hole_mm",
    "prepare",
    "stocked",
    "turned_to_plate",
    "with_wall",
]
