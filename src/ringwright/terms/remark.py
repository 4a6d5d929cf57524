"""What a step says of the design: at one of three levels, with figure, limit, source, place and remedy."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Point = tuple[float, float, float]
"""A place in the ring's own frame, in mm (see :mod:`ringwright.terms.body`)."""


class Level(StrEnum):
    """How grave a remark is. ``fine``: as it should be; ``heed``: look before going on; ``halt``: do not make it so."""

    FINE = "fine"
    HEED = "heed"
    HALT = "halt"

    @property
    def rank(self) -> int:
        """0, 1 or 2: the graver the higher."""
        return ("fine", "heed", "halt").index(self.value)


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark of a step.

    ``kind`` is a short stable word for tests and pages ("stone-mass", "wall-thin"); ``says`` one plain
    sentence; ``figure`` and ``limit`` share ``unit``; ``limit_source`` names where the limit is from
    (or "common practice, no source"); ``place`` says in words where on the ring, ``point_mm`` where in
    space; ``change`` is what to change so that the remark goes away.
    """

    step: str
    level: Level
    kind: str
    says: str
    figure: float | None = None
    limit: float | None = None
    unit: str = ""
    limit_source: str = ""
    place: str = ""
    point_mm: Point | None = None
    change: str = ""

    def __post_init__(self) -> None:
        """A remark that warns must say what to change, and a limit must say where it is from."""
        if self.level is not Level.FINE and not self.change:
            raise ValueError(f"remark {self.step}/{self.kind} warns but does not say what to change")
        if self.limit is not None and not self.limit_source:
            raise ValueError(f"remark {self.step}/{self.kind} has a limit without a source")


def worst(remarks: tuple[Remark, ...]) -> Level:
    """The gravest level among the remarks; ``fine`` where there are none."""
    return max((r.level for r in remarks), key=lambda level: level.rank, default=Level.FINE)
