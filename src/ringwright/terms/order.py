"""The order of the work, said once: commands, pages, papers, docs and benchmarks derive from it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a making: its package's name, its title, and the question that it answers."""

    name: str
    title: str
    question: str


STEPS: tuple[Step, ...] = (
    Step("finger", "Finger", "What must the inside of the ring be?"),
    Step("gems", "Gems", "What stone is this really?"),
    Step("metal", "Metal", "What is it made of?"),
    Step("piece", "Piece", "What exactly was drawn?"),
    Step("setting", "Setting", "Will it hold the stone, and can it be set?"),
    Step("wear", "Wear", "Will it live on a hand?"),
    Step("pattern", "Pattern", "What size must the pattern be?"),
    Step("tree", "Tree", "How is the metal led in, and what mould?"),
    Step("burnout", "Burnout", "How is the mould fired?"),
    Step("pour", "Pour", "Will it fill, and freeze sound?"),
    Step("bench", "Bench", "What must the hands do?"),
    Step("mark", "Mark", "What may and must be stamped?"),
    Step("price", "Price", "What must it cost?"),
)


def step(name: str) -> Step:
    """The step of that name; ``KeyError`` if there is none."""
    for one in STEPS:
        if one.name == name:
            return one
    raise KeyError(name)
