"""How is the metal led in, and what mould?

:func:`build` makes the tree of one or several patterns: gates, sprues, blind feeders, button, flask, investment,
charge, crucible, and the solid in the flask's frame (:class:`~ringwright.terms.tree.Pose`), with other ways of leading
the metal in that may be judged beside it (:class:`~ringwright.terms.tree.Way`). :func:`helped` gives a way a feeder, or
one more gate, where it leaves a pore. :func:`propose_gates` finds gates alone; :func:`mix` weighs powder and water,
:func:`charge` and :func:`metal_for` the metal.
"""

from ringwright.steps.tree.build import build
from ringwright.steps.tree.charge import Charge, charge, crucible_for, forbidden, metal_for
from ringwright.steps.tree.gates import Proposal, propose_gates
from ringwright.steps.tree.heavy import Studied, study
from ringwright.steps.tree.mould import Mix, by_rule, flask_cm3, mix, smallest
from ringwright.steps.tree.ways import helped, sprues_of, where

__all__ = [
    "Charge",
    "Mix",
    "Proposal",
    "Studied",
    "build",
    "by_rule",
    "charge",
    "crucible_for",
    "flask_cm3",
    "forbidden",
    "helped",
    "metal_for",
    "mix",
    "propose_gates",
    "smallest",
    "sprues_of",
    "study",
    "where",
]
