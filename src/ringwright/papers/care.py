"""Cautions for the cards, from the facts that the making stands on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any

from ringwright.papers.blocks import Block, Card, balanced, cautions, text
from ringwright.papers.generic import found
from ringwright.steps.bench import cautions as caution_texts
from ringwright.steps.bench.danger import DEFERS
from ringwright.terms.bench import BenchPlan
from ringwright.terms.facts import Facts


def facts_of(making: Any) -> Facts | None:
    """The tables that the making was worked with, where it has them along."""
    facts = getattr(making, "facts", None)
    return facts if isinstance(facts, Facts) else None


def cautions_of(
    making: Any, *, groups: Collection[str] = (), keys: Sequence[str] = (), but: Collection[str] = ()
) -> tuple[Block, ...]:
    """The cautions of the bench tasks of these groups (but for some tasks) and of these keys, each once.

    Where none is known, still that local codes come first.
    """
    plan = found(making, "bench", BenchPlan)
    wanted = list(keys)
    if plan is not None:
        wanted += [key for task in plan.tasks if task.group in groups and task.key not in but for key in task.cautions]
    facts = facts_of(making)
    known = {row.key for row in facts.cautions} if facts is not None else set()
    chosen = [key for key in dict.fromkeys(wanted) if key in known]
    if facts is None or not chosen:
        return (text(DEFERS, italic=True),)
    return cautions(caution_texts(chosen, facts.cautions, facts.hazards), DEFERS)


def once(cards: tuple[Card, ...]) -> tuple[Card, ...]:
    """The cards with the limits behind a caution on the first that has it: a caution is told on every card."""
    seen: set[str] = set()
    return tuple(replace(card, blocks=tuple(_without(block, seen) for block in card.blocks)) for card in cards)


def _without(block: Block, seen: set[str]) -> Block:
    if block["kind"] != "cautions":
        return block
    told = [one for column in block["columns"] for one in column]
    left = [one | {"figures": [] if one["title"] in seen else one["figures"]} for one in told]
    seen |= {one["title"] for one in told}
    return balanced(block, left)
