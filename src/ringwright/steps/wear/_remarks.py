"""What ``wear`` says of the design."""

from __future__ import annotations

from collections.abc import Sequence

from ringwright.terms.facts import used
from ringwright.terms.piece import PieceFigures
from ringwright.terms.remark import Level, Remark
from ringwright.terms.wear import LoadKind, Strength, WearFigures, WearLimitFact


def remarks(result: WearFigures, figures: PieceFigures, limits: Sequence[WearLimitFact]) -> tuple[Remark, ...]:
    """Strength case by case, then balance, height and edges."""
    said = [_of_strength(one, limits) for one in result.strengths]
    said.append(_of_turning(result, limits))
    height = used(limits, "height")
    if height.heed_above is not None and result.height_mm > height.heed_above:
        said.append(
            Remark(
                "wear",
                Level.HEED,
                "tall",
                f"the ring stands {result.height_mm:.1f} mm over the finger",
                result.height_mm,
                height.heed_above,
                "mm",
                height.source,
                "head",
                change="set the stone lower, or tell the client that it will catch",
            )
        )
    if result.sharp_inside_mm > 1.0:
        said.append(
            Remark(
                "wear",
                Level.HEED,
                "edge-inside",
                f"{result.sharp_inside_mm:.0f} mm of edge toward the finger are drawn sharp",
                result.sharp_inside_mm,
                place="inside of the shank",
                unit="mm",
                change="round the inner edges by 0.3 mm or more, in the model or at the bench",
            )
        )
    floor = used(limits, "worn-out")
    if floor.thickness_mm is not None and figures.band_thickness_mm <= floor.thickness_mm:
        said.append(
            Remark(
                "wear",
                Level.HALT,
                "shank-thin",
                f"the bottom of the shank is {figures.band_thickness_mm:.2f} mm: new, and already worn out",
                figures.band_thickness_mm,
                floor.thickness_mm,
                "mm",
                floor.source,
                "bottom of the shank",
                (0.0, -figures.hole_diameter_mm / 2, 0.0),
                "draw the shank thicker at the bottom",
            )
        )
    return tuple(said)


def _of_strength(one: Strength, limits: Sequence[WearLimitFact]) -> Remark:
    limit = used(limits, "stretch" if one.kind is LoadKind.STRETCH else "safety")
    assert limit.halt_below is not None and limit.heed_below is not None
    kind = f"strength-{one.kind.value}"
    what = f"{one.title.lower()} ({one.load}): {one.safety.value:.2g} times safe against "
    what += "tearing" if one.kind is LoadKind.STRETCH else "bending for good"
    if not one.converged:
        what += f"; the finer mesh moved the figure by {abs(one.change_percent):.0f} %, so take it as rough"
    change = {
        LoadKind.SQUEEZE: "make the shank thicker or wider there, or take a harder alloy",
        LoadKind.SNAG: "make the claw thicker or shorter, or take a harder alloy",
        LoadKind.KNOCK: "make the head's base or the shoulders stouter",
        LoadKind.STRETCH: "do not stretch this ring: cut and size it, or thicken the place",
    }[one.kind]
    value = one.safety.value
    if value < limit.halt_below:
        return Remark(
            "wear",
            Level.HALT if one.kind is not LoadKind.STRETCH else Level.HEED,
            kind,
            what,
            value,
            limit.halt_below,
            "",
            limit.source,
            one.place,
            one.point_mm,
            change,
        )
    level = Level.HEED if value < limit.heed_below else Level.FINE
    return Remark("wear", level, kind, what, value, limit.heed_below, "", limit.source, one.place, one.point_mm, change)


def _of_turning(result: WearFigures, limits: Sequence[WearLimitFact]) -> Remark:
    limit = used(limits, "turning")
    assert limit.heed_above is not None
    share = result.turning_share
    if share > limit.heed_above:
        return Remark(
            "wear",
            Level.HEED,
            "top-heavy",
            f"worn loose it will turn: its weight turns {share:.1f} times as hard as friction holds",
            share,
            limit.heed_above,
            "",
            limit.source,
            "head",
            None,
            "lower the head, make the bottom heavier, or fit it snugly (sizing beads, flatter inside)",
        )
    return Remark(
        "wear",
        Level.FINE,
        "top-heavy",
        f"stays head up: weight turns {share:.2f} of what friction holds",
        share,
        limit.heed_above,
        "",
        limit.source,
        "head",
    )
