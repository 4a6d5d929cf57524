"""How is the metal led in, and what mould?

:func:`build` makes the tree of one or several patterns: gates, sprues, button, flask, investment, charge, crucible,
and the solid in the flask's frame (:class:`~ringwright.terms.tree.Pose`). :func:`propose_gates` finds gates alone;
:func:`mix` weighs powder and water, :func:`charge` and :func:`metal_for` the metal.
"""

from ringwright.steps.tree.build import build
from ringwright.steps.tree.charge import Charge, charge, crucible_for, forbidden, metal_for
from ringwright.steps.tree.gates import Proposal, propose_gates
from ringwright.steps.tree.mould import Mix, by_rule, flask_cm3, mix, smallest

__all__ = [
    "Charge",
    "Mix",
    "Proposal",
    "build",
    "by_rule",
    "charge",
    "crucible_for",
    "flask_cm3",
    "forbidden",
    "metal_for",
    "mix",
    "propose_gates",
    "smallest",
]
