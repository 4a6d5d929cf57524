"""Will it hold the stone, and can it be set?

``judge`` measures the ring's walls and gaps, puts each stone in its place, looks at what stands around it, asks whether
it is held, and bends each claw over it.
"""

from __future__ import annotations

from collections.abc import Sequence

from ringwright.steps.setting._bend import metal_of
from ringwright.steps.setting._head import Head, about, look
from ringwright.steps.setting._placed import Placed, Stone
from ringwright.steps.setting._pose import places
from ringwright.steps.setting._remarks import of_stone
from ringwright.steps.setting._stone import figures
from ringwright.steps.setting._walls import judge_walls, see
from ringwright.terms.alloy import Alloy
from ringwright.terms.body import Body, Role
from ringwright.terms.facts import used
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import Piece
from ringwright.terms.progress import Progress, silent
from ringwright.terms.remark import Remark
from ringwright.terms.setting import SetStone, SettingFigures, SettingLimit, SettingPractice, Temper, WallLimit

__all__ = ["judge"]


def judge(
    piece: Piece,
    stones: Sequence[Stone],
    alloy: Alloy,
    walls: Sequence[WallLimit],
    limits: Sequence[SettingLimit],
    practice: Sequence[SettingPractice],
    *,
    stock_mm: float = 0.0,
    temper: Temper = Temper.CAST,
    progress: Progress = silent,
) -> Outcome[SettingFigures]:
    """The drawn ring judged: walls and gaps, stones in place, whether they are held and can be set.

    ``stones`` are the brief, the gem and its solid, in the commission's order; ``stock_mm`` is what clean-up and polish
    take of each surface: it is added to a ring drawn finished to get the casting, and taken off one drawn as a casting;
    ``temper`` is the state in which it is set. The outcome's bodies are the stones in their places (ring's frame, by
    their names in the commission), its fields the wall and the gap on body "ring". Raises ``ComputingFault`` where a
    boolean or a linear programme fails.
    """
    progress(0.0, "setting: walls and gaps")
    seen = see(piece, limits)
    progress(0.4, "setting: where the stones sit")
    placed, remarks = places(piece, stones, limits)
    metal = metal_of(alloy, temper, practice)
    heads: list[tuple[Placed, Head]] = []
    found: list[SetStone] = []
    said: list[Remark] = []
    if placed:
        from ringwright.science.solids import to_manifold

        whole = to_manifold(piece.metal)
        reach = used(limits, "gap").never_above or 0.0
        for n, stone in enumerate(placed):
            progress(0.5 + 0.4 * n / len(placed), f"setting: stone '{stone.brief.name}'")
            near = about(stone, whole)
            head = look(stone, near, reach)
            others = [other for k, other in enumerate(placed) if k != n]
            one = figures(piece, stone, others, head, near, metal, stock_mm, limits, practice)
            heads.append((stone, head))
            found.append(one)
            said += of_stone(piece, stone, head, one, alloy, metal, limits, practice, walls)
    progress(0.95, "setting: walls against their limits")
    measured, thin = judge_walls(piece, seen, heads, alloy, walls, limits, stock_mm)
    result = SettingFigures(
        walls=measured, stones=tuple(found), temper=temper, yield_MPa=metal.yield_MPa,
        elongation_percent=metal.elongation_percent,
    )  # fmt: skip
    bodies = tuple(Body(stone.brief.name, Role.STONE, stone.mesh) for stone in placed)
    return Outcome("setting", result, (*remarks, *said, *thin), bodies, seen.fields)
