"""What the step says of each stone: in its place, held, and set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from ringwright.steps.setting._bend import PUSH, Metal
from ringwright.steps.setting._head import Head
from ringwright.steps.setting._placed import Placed
from ringwright.steps.setting._walls import claw_rows
from ringwright.terms.alloy import Alloy
from ringwright.terms.commission import Setting
from ringwright.terms.facts import used
from ringwright.terms.piece import Piece
from ringwright.terms.remark import Level, Point, Remark
from ringwright.terms.setting import Claw, Seated, SetStone, SettingLimit, SettingPractice, WallLimit


def bounded(
    limit: SettingLimit, kind: str, figure: float, says: str, place: str, at: Point | None, more: str, less: str = ""
) -> Remark | None:
    """A remark if a figure is outside its limits: ``more`` says how to raise it, ``less`` how to lower it."""
    for bound, level, below in (
        (limit.never_below, Level.HALT, True),
        (limit.never_above, Level.HALT, False),
        (limit.at_least, Level.HEED, True),
        (limit.at_most, Level.HEED, False),
    ):
        if bound is not None and (figure < bound - 1e-9 if below else figure > bound + 1e-9):
            return Remark(
                "setting",
                level,
                kind,
                says,
                figure,
                bound,
                limit.unit,
                limit.source,
                place,
                at,
                more if below else less,
            )
    return None


def of_stone(
    piece: Piece, placed: Placed, head: Head, stone: SetStone, alloy: Alloy, metal: Metal,
    limits: Sequence[SettingLimit], practice: Sequence[SettingPractice], rows: Sequence[WallLimit],
) -> list[Remark]:  # fmt: skip
    """All remarks on one stone."""
    inside = _inside(stone, head, limits)
    if inside is not None:
        return [inside]
    if not head.holders and stone.setting is not Setting.FLUSH:
        return [_no_metal(stone, limits)]
    said: list[Remark | None] = [*_place(placed, head, stone, limits), _held(stone)]
    said += _losses(stone, limits)
    said += _together(
        [remark for one in stone.claws for remark in _claw(placed, stone, one, metal, alloy, limits, practice, rows)],
    )
    said += _corners(stone, limits)
    said += _flush(placed, stone, limits)
    coarse = used(limits, "claw sides")
    facets = piece.hole.diameter_mm - piece.hole.facet_diameter_mm
    claws = [one for one in stone.claws if not one.wall]
    if claws and head.corners and facets > 0.05 and min(head.corners) < (coarse.at_least or 0):
        sides = float(min(head.corners))
        said.append(
            Remark(
                "setting", Level.HEED, "claw-coarse",
                f"the mesh is too coarse to tell a claw: {sides:.0f} sides round its section",
                sides, coarse.at_least, "",
                coarse.source, f"claws of stone '{stone.name}'", claws[0].point_mm,
                "export the model again with a finer tolerance, 0.005 mm",
            )
        )  # fmt: skip
    return [remark for remark in said if remark is not None]


def _inside(stone: SetStone, head: Head, limits: Sequence[SettingLimit]) -> Remark | None:
    """A stone whose pavilion is full of metal."""
    if stone.setting is Setting.FLUSH:
        return None
    says = (
        f"stone '{stone.name}' sits inside the metal: {head.sunk_percent:.0f} % of what lies below its girdle is filled"
    )
    change = 'raise the stone\'s seat, or cut the metal out under it; for a stone sunk in metal say setting = "flush"'
    limit = used(limits, "filled")
    return bounded(limit, "stone-inside", head.sunk_percent, says, f"stone '{stone.name}'", stone.at_mm, change, change)


def _no_metal(stone: SetStone, limits: Sequence[SettingLimit]) -> Remark:
    gap = used(limits, "gap")
    return Remark(
        "setting", Level.HALT, "no-metal",
        f"no metal is near stone '{stone.name}': the nearest to its girdle is {stone.gap_mm:.2f} mm off", stone.gap_mm,
        gap.never_above, "mm", gap.source, f"stone '{stone.name}'", stone.at_mm,
        "move the seat to where the head is, or draw claws or a wall about it",
    )  # fmt: skip


def _place(placed: Placed, head: Head, stone: SetStone, limits: Sequence[SettingLimit]) -> Iterator[Remark | None]:
    """Where it sits: clearances, tilt, neighbours."""
    name = f"stone '{stone.name}'"
    if stone.seated is Seated.FOUND:
        yield Remark(
            "setting", Level.FINE, "pose-found",
            f"where {name} sits was found from the metal: {stone.height_mm:.2f} mm over the finger", place=name,
            point_mm=stone.at_mm,
        )  # fmt: skip
        says = f"{name} as found leans {stone.tilt_deg:.1f}° off the finger's radius"
        change = "see that its seat is level, or give its seat in the commission"
        yield bounded(used(limits, "tilt"), "tilted", stone.tilt_deg, says, name, stone.at_mm, change, change)
    what = "culet" if placed.solid.pavilion_depth_mm > 0.1 else "base"
    lift = f"raise {name}, or take a shallower one"
    says = f"the {what} of {name} is {stone.culet_mm:.2f} mm over the finger"
    yield bounded(used(limits, "culet"), "culet-low", stone.culet_mm, says, name, stone.at_mm, lift)
    if stone.neighbour_mm is not None:
        key = {Setting.CHANNEL: "stones apart, channel", Setting.FLUSH: "stones apart, flush"}.get(
            stone.setting, "stones apart"
        )
        limit = used(limits, key)
        if stone.neighbour_mm < 0:
            yield Remark(
                "setting", Level.HALT, "stones-overlap",
                f"{name} and stone '{stone.neighbour}' lie in one another", stone.neighbour_mm, 0.0, "mm",
                "exact: two solids cannot share a place", name, stone.at_mm, "move one of the two seats",
            )  # fmt: skip
        else:
            says = f"{name} is {stone.neighbour_mm:.2f} mm from stone '{stone.neighbour}'"
            yield bounded(limit, "stones-close", stone.neighbour_mm, says, name, stone.at_mm, "move them apart")
    if placed.solid.pavilion_depth_mm < 0.1:
        ledge = any(holder.bearing for holder in head.holders)
        says = f"{name} has no pavilion and rests on its flat base"
        if ledge:
            yield Remark("setting", Level.FINE, "flat-base", says, place=name, point_mm=stone.at_mm)
        else:
            yield Remark(
                "setting", Level.HALT, "flat-base", f"{says}, and there is no metal under it", place=name,
                point_mm=stone.at_mm, change="draw a flat bearing under its edge, all round",
            )  # fmt: skip


def _held(stone: SetStone) -> Remark | None:
    name = f"stone '{stone.name}'"
    hold = stone.hold
    if hold is None or not hold.held:
        way = hold.leaves if hold is not None else "nothing touches it"
        return Remark(
            "setting", Level.HALT, "not-held", f"{name} is not held: {way}", place=name, point_mm=stone.at_mm,
            change=_remedy(stone),
        )  # fmt: skip
    kind = "and only turns in its seat" if hold.turns else "every way"
    return Remark("setting", Level.FINE, "held", f"{name} is held {kind}", place=name, point_mm=stone.at_mm)


def _remedy(stone: SetStone) -> str:
    if any(not one.bearing for one in stone.claws):
        return "give every claw metal below the girdle for a bearing"
    if len(stone.claws) < 3 and not any(one.wall for one in stone.claws):
        return "draw another claw on the side that is free, three at least"
    return "draw the claws or the wall higher over the girdle, on the side that is free"


def _losses(stone: SetStone, limits: Sequence[SettingLimit]) -> Iterator[Remark | None]:
    hold = stone.hold
    if hold is None or not hold.held:
        return
    name = f"stone '{stone.name}'"
    limit = used(limits, "margin")
    if stone.setting is not Setting.FLUSH:
        says = f"{name} resists {hold.margin:.2f} N for each N that a claw holds, weakest {hold.weakest}"
        change = "spread the claws evenly, widen them, or add one"
        yield bounded(limit, "hold-weak", hold.margin, says, name, stone.at_mm, change)
    lost = [loss for loss in hold.losses if not loss.held]
    for loss in lost:
        says = f"{name} is lost when claw {loss.claw} wears off: {loss.leaves}"
        change = "add a claw, or widen the claws beside it"
        at = stone.claws[loss.claw - 1].tip_mm
        yield Remark("setting", Level.HEED, "claw-loss", says, place=f"claw {loss.claw}", point_mm=at, change=change)
    if hold.losses and not lost:
        says = f"{name} is still held when any one claw wears off"
        yield Remark("setting", Level.FINE, "claw-loss", says, place=name, point_mm=stone.at_mm)


def _claw(
    placed: Placed, stone: SetStone, one: Claw, metal: Metal, alloy: Alloy,
    limits: Sequence[SettingLimit], practice: Sequence[SettingPractice], rows: Sequence[WallLimit],
) -> Iterator[Remark | None]:  # fmt: skip
    place = ("bezel" if one.wall else f"claw {one.number}") + f" of stone '{stone.name}'"
    at = one.point_mm
    if not one.wall:
        for least in claw_rows(rows, alloy.metal):
            if least.at_least_mm is not None and min(one.thickness_mm, one.width_mm) < least.at_least_mm:
                thick = min(one.thickness_mm, one.width_mm)
                yield Remark(
                    "setting", Level.HEED, "claw-thin", f"{place} is {thick:.2f} mm thick",
                    thick, least.at_least_mm, "mm",
                    least.source, place, at, f"draw it {least.at_least_mm:g} mm thick or more",
                )  # fmt: skip
        says = f"the seat in {place} is {one.seat_percent:.0f} % of its thickness"
        yield bounded(
            used(limits, "seat depth"), "seat-depth", one.seat_percent, says, place, at,
            "move the claw toward the stone, so that it bites", "move the claw outward, or draw it thicker",
        )  # fmt: skip
    row = used(limits, "bezel above" if one.wall else "claw above")
    share = 100.0 * one.above_mm / placed.solid.table_z_mm
    if stone.setting is not Setting.FLUSH:
        says = f"{place} stands {one.above_mm:.2f} mm over the girdle, {share:.0f} % of the height to the table"
        change = f"draw it {(row.at_least or 0.0) / 100 * placed.solid.table_z_mm - one.above_mm:.2f} mm higher"
        yield bounded(row, "claw-short" if not one.wall else "wall-short", share, says, place, at, change)
        says = f"{place} is {one.gap_mm:.2f} mm off the girdle"
        yield bounded(used(limits, "gap"), "claw-gap", one.gap_mm, says, place, at, "", "move it to the stone")
    if stone.setting is Setting.CHANNEL and one.wall:
        says = f"the channel's wall is {one.thickness_mm:.2f} mm"
        wall = used(limits, "channel wall")
        yield bounded(wall, "channel-wall", one.thickness_mm, says, place, at, f"draw it {wall.at_least:g} mm thick")
    if stone.setting is not Setting.FLUSH:
        yield from _bending(placed, one, place, metal, limits, practice)


def _together(remarks: Sequence[Remark | None]) -> list[Remark]:
    """One remark for each kind, of the claw where it is worst, that names the other claws too."""
    kinds: dict[str, list[Remark]] = {}
    for remark in remarks:
        if remark is not None:
            kinds.setdefault(remark.kind, []).append(remark)
    out = []
    for same in kinds.values():
        worst = max(same, key=lambda r: (r.level.rank, abs((r.figure or 0.0) - (r.limit or 0.0))))
        others = [r.place.split(" of ")[0] for r in same if r is not worst]
        if others:
            worst = replace(worst, says=f"{worst.says}; likewise {', '.join(others)}")
        out.append(worst)
    return out


def _bending(
    placed: Placed, one: Claw, place: str, metal: Metal,
    limits: Sequence[SettingLimit], practice: Sequence[SettingPractice],
) -> Iterator[Remark | None]:  # fmt: skip
    at = one.tip_mm
    share = 100.0 * one.strain_percent / max(metal.elongation_percent, 1e-6)
    says = (
        f"bending {place} strains it by {one.strain_percent:.0f} %; "
        f"this metal breaks at {metal.elongation_percent:.0f} %"
    )
    change = "anneal before setting, file the claw thinner behind the seat, or take a softer alloy"
    yield bounded(used(limits, "strain"), "claw-strain", share, says, place, at, "", change)
    if not one.wall:
        says = f"pushed at its tip, {place} bends at its root before it bends at the seat"
        change = "join it to the gallery nearer to the girdle, thicken its root, or cut the seat deeper"
        yield bounded(used(limits, "root"), "claw-root", one.root_share, says, place, at, "", change)
    gem = placed.gem
    if not one.wall and one.force_N > one.bears_N:
        why = ", ".join(
            words for words in (
                f"cleavage {gem.cleavage}" if gem.cleavage else "", f"girdle {gem.girdle_word}",
            ) if words
        )  # fmt: skip
        yield Remark(
            "setting", Level.HEED, "push-hard",
            f"{place} needs {one.force_N:.0f} N; {gem.material} ({why}) is to be set with less",
            one.force_N, one.bears_N,
            "N", used(practice, PUSH[gem.force]).source, place, at,
            "thin the claw before it is pushed, anneal it, or take a softer alloy",
        )  # fmt: skip
    share = 100.0 * one.pressure_MPa / max(one.bears_MPa, 1e-6)
    says = f"{place} presses with {one.pressure_MPa:.0f} MPa on {gem.material}, which {one.bears_MPa:.0f} MPa dent"
    change = (
        "lay the claw on more of the crown, thin or anneal it before it is pushed, or set the stone in a soft bezel"
    )
    yield bounded(used(limits, "pressure"), "press-dents", share, says, place, at, "", change)


def _corners(stone: SetStone, limits: Sequence[SettingLimit]) -> Iterator[Remark]:
    limit = used(limits, "corner")
    for corner in stone.corners:
        if corner.feature in ("corner", "point") and not corner.covered:
            yield Remark(
                "setting", Level.HEED, "corner-bare", f"a {corner.feature} of stone '{stone.name}' lies bare",
                corner.away_mm, limit.at_most, "mm", limit.source, f"stone '{stone.name}'", corner.point_mm,
                f"put a claw, a V-claw for a sharp one, at the {corner.feature}",
            )  # fmt: skip


def _flush(placed: Placed, stone: SetStone, limits: Sequence[SettingLimit]) -> Iterator[Remark | None]:
    flush = stone.flush
    if flush is None:
        return
    name = f"stone '{stone.name}'"
    for key, figure, says, change in (
        ("flush below", flush.below_mm,
         f"{flush.below_mm:.2f} mm of metal are left under {name}", "thicken the metal there"),
        ("flush beside", flush.beside_mm, f"{flush.beside_mm:.2f} mm of metal are left beside {name}",
         "move it from the edge, or widen the ring there"),
        ("flush lip", flush.lip_mm,
         f"{flush.lip_mm:.2f} mm of metal stand over the girdle of {name}", "sink it deeper"),
        ("flush hardness", placed.gem.mohs,
         f"{placed.gem.material} is Mohs {placed.gem.mohs:g}: the burnisher may scratch it",
         "set it in a bezel or claws instead"),
    ):  # fmt: skip
        yield bounded(used(limits, key), key.replace(" ", "-"), figure, says, name, stone.at_mm, change)
