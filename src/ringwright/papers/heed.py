"""The first card of the bench: what ring this is, and what to heed, worst first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ringwright.papers.blocks import Block, Card, Cell, heading, pairs, signed, small, text, together
from ringwright.papers.dossier import outcomes, verdict_of
from ringwright.papers.generic import found
from ringwright.papers.say import dwt, measure, sentence
from ringwright.papers.tongue import own, source
from ringwright.terms.finger import Fit
from ringwright.terms.making import MetalFound
from ringwright.terms.order import STEPS
from ringwright.terms.pattern import PatternFigures
from ringwright.terms.remark import Level, Remark
from ringwright.words.numbers import day

_CAUTION = "caution"
"""How the kind of a remark begins that repeats a caution: cautions stand on the cards of their work."""

_ON_A_PAGE = 40
"""So many remarks in short are kept on one page."""

_WORDS = {
    Level.HALT: "Do not make it so: {count} to change first.",
    Level.HEED: "Look before going on: {count} to heed.",
    Level.FINE: "Nothing stands against it.",
}


def heed_card(making: Any, views: tuple[Block, ...], words: Sequence[Remark] = ()) -> Card:
    """The ring at a glance and the remarks of all steps, the worst first; those that are fine in short at the end.

    ``words`` are remarks on what the papers may not say.
    """
    remarks = [*(r for _, outcome in outcomes(making) for r in outcome.remarks), *words]
    grave = sorted((r for r in remarks if r.level is not Level.FINE), key=lambda r: -r.level.rank)
    fine = [r for r in remarks if r.level is Level.FINE and not r.kind.startswith(_CAUTION)]
    blocks: list[Block] = [*views, at_a_glance(making)]
    blocks.append(heading("What to heed", _verdict(making, grave)))
    blocks += [remark_block(remark) for remark in grave]
    if not grave:
        blocks.append(text("No step found anything to heed. Tick each task on its card as it is done.", italic=True))
    if fine:
        told = signed(((Level.FINE, sentence(remark.says)) for remark in fine), columns=2, small=True)
        whole = [heading("As it should be"), told]
        blocks += [together(*whole)] if len(fine) <= _ON_A_PAGE else whole
    return Card("What to heed", "What will go wrong, and what to change while that costs nothing?", tuple(blocks))


def at_a_glance(making: Any) -> Block:
    """The ring in a few words."""
    order = making.commission
    facts: list[tuple[str, Cell]] = []
    fit = found(making, "finger", Fit)
    if fit is not None:
        facts.append(("Size asked", asked(fit)))
        facts.append(("Reads on the stick", reads(fit)))
        facts.append(("Inner diameter to make", measure(fit.inner_diameter_mm.value, "mm", 2)))
    metal = found(making, "metal", MetalFound)
    facts.append(("Metal", sentence(metal.alloy.title if metal is not None else order.metal.alloy)))
    pattern = found(making, "pattern", PatternFigures)
    if pattern is not None:
        mass = pattern.finished_mass_g
        facts.append(("Finished metal", [measure(mass, "g", 2), small(dwt(mass.value))]))
    stones = [f"{own(stone.name)}: {stone.material}, {stone.cut}" for stone in order.stone]
    facts.append(("Stones", stones[:4] or "none"))
    if len(stones) > 4:
        facts.append(("", f"and {len(stones) - 4} more"))
    due = order.commission.due
    facts.append(("Promised for", day(due) if due is not None else "no day named"))
    facts.append(("Market", order.commission.market.upper()))
    return pairs(facts)


def reads(fit: Fit) -> str:
    """The size of the finished ring in the client's system, else its diameter."""
    for size in fit.made.labels.values():
        if fit.asked.startswith(f"{size.title}: "):
            return size.written
    return measure(fit.made.inner_diameter_mm, "mm", 2)


def asked(fit: Fit) -> str:
    """What was asked for, with the system's short name where it is one: ``M (UK)``."""
    for key, size in fit.made.labels.items():
        if fit.asked.startswith(f"{size.title}: "):
            return f"{fit.asked.removeprefix(f'{size.title}: ')} ({key.upper() if key != 'diameter' else 'mm across'})"
    return sentence(fit.asked)


def remark_block(remark: Remark, *, ticked: bool = True) -> Block:
    """A remark with its figure, limit, source, place, and what to change."""
    lines: list[list[str]] = []
    title = next((step.title for step in STEPS if step.name == remark.step), remark.step)
    figures = []
    if remark.figure is not None:
        figures.append(f"{_told(remark.figure, remark.unit)} found")
    if remark.limit is not None:
        figures.append(f"limit {_told(remark.limit, remark.unit)}")
    if figures:
        lines.append(["Figure", ", ".join(figures)])
    if remark.limit_source:
        lines.append(["By", source(remark.limit_source)])
    where = [title] + ([remark.place] if remark.place else [])
    lines.append(["Where", ": ".join(where)])
    if remark.change:
        lines.append(["Change", sentence(remark.change)])
    return {
        "kind": "remark",
        "level": remark.level.value,
        "word": remark.level.value,
        "says": sentence(remark.says),
        "lines": lines,
        "tick": ticked,
    }


def _verdict(making: Any, grave: list[Remark]) -> str:
    worst = verdict_of(making)
    count = sum(remark.level is worst for remark in grave)
    return _WORDS[worst].format(count=f"{count} thing{'s' if count != 1 else ''}")


def _told(value: float, unit: str) -> str:
    """A remark's figure to three significant digits, whole where it is large."""
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    return measure(value, unit, digits)
