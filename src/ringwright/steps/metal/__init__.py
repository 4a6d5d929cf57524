"""Metal: what is the ring made of, and what is its charge weighed out from?

``resolve`` gives an alloy with every figure; ``density`` weighs any alloy, also one that cannot be cast for want of
a melting range. ``recipe`` weighs out a charge from stock and fine metals, its fineness guaranteed; ``scrap_lot``
names scrap of the alloy itself. ``with_own`` adds the shop's own alloys to those of the facts. ``to_reach``,
``mass_in`` and ``share_of_two`` are the bench's arithmetic; ``silver_ratio`` and ``hardening`` tell how a gold
hardens; ``limited`` what the law of a market says of a composition.
"""

from ringwright.steps.metal.charge import recipe, scrap_lot
from ringwright.steps.metal.fineness import mass_in, to_reach
from ringwright.steps.metal.hardening import hardening, platinum_hardness, silver_ratio
from ringwright.steps.metal.limits import limited
from ringwright.steps.metal.mixing import share_of_two
from ringwright.steps.metal.own import with_own
from ringwright.steps.metal.resolving import density, resolve

__all__ = [
    "density",
    "hardening",
    "limited",
    "mass_in",
    "platinum_hardness",
    "recipe",
    "resolve",
    "scrap_lot",
    "share_of_two",
    "silver_ratio",
    "to_reach",
    "with_own",
]
