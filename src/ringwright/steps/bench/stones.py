"""What a task does to the stones that are already set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ringwright.terms.bench import BenchStone
from ringwright.terms.gems import Bears
from ringwright.terms.remark import Level, Remark

STEP = "bench"
_DOES = {
    "torch": ("soldered with the torch", "take the stone out first, or join with a laser or cold"),
    "pickle": ("pickled", "pickle before the stone is set, or take it out; rinse in warm soapy water instead"),
    "ultrasonic": ("put into the ultrasonic bath", "clean with warm soapy water and a soft brush"),
    "steam": ("steamed", "clean with warm soapy water and a soft brush"),
}
_UNNAMED = "common practice, no source"


def bears(stone: BenchStone, exposure: str) -> Bears:
    """What the stone bears of torch, pickle, ultrasonic or steam."""
    found = {"torch": stone.torch, "pickle": stone.pickle, "ultrasonic": stone.ultrasonic, "steam": stone.steam}
    return found[exposure]


def all_bear(stones: Iterable[BenchStone], exposures: Iterable[str]) -> bool:
    """Whether every stone bears every exposure, at least as a clean and untreated stone of its kind does."""
    exposures = tuple(exposures)
    return all(bears(stone, e).rank <= Bears.USUALLY.rank for stone in stones for e in exposures)


def judge_exposure(exposure: str, stones: Sequence[BenchStone], task: str) -> tuple[Remark, ...]:
    """Remarks on doing ``task`` with the stones in place: halt where a stone never bears it, heed where it is risky.

    ``exposure`` is torch, pickle, ultrasonic or steam (``KeyError`` for another). Where a stone usually bears it, the
    remark is fine and says with what care.
    """
    done, instead = _DOES[exposure]
    found = []
    for stone in stones:
        how = bears(stone, exposure)
        if how is Bears.YES:
            continue
        level = {Bears.USUALLY: Level.FINE, Bears.RISKY: Level.HEED, Bears.NEVER: Level.HALT}[how]
        may = {
            Bears.USUALLY: "usually bears it, if it is clean and untreated",
            Bears.RISKY: "may not bear it",
            Bears.NEVER: "never bears it",
        }[how]
        care = "" if not stone.cautions else " " + " ".join(stone.cautions)
        found.append(
            Remark(
                STEP,
                level,
                f"stone-{exposure}",
                f"{task}: the stone '{stone.name}' ({stone.material}) would be {done}, and {may}.{care}",
                limit_source=stone.source or _UNNAMED,
                place=f"stone {stone.name}",
                change="" if level is Level.FINE else instead,
            )
        )
    return tuple(found)
