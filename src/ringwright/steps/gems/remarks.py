"""What the step says of a stone."""

from __future__ import annotations

from collections.abc import Iterator

from ringwright.terms.gems import Bears, CutFact, Family, Gem, GemFact
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level, Remark


def mass_remark(gem: Gem, band: Estimate) -> Iterator[Remark]:
    """Whether the stated mass fits the size: outside the band is ``heed``, outside twice the band ``halt``."""
    stated = gem.stated_ct
    if stated is None:
        return
    size = f"{gem.length_mm:.2f} x {gem.width_mm:.2f} x {gem.depth_mm:.2f} mm"
    if gem.plausible:
        yield Remark(
            "gems",
            Level.FINE,
            "stone-mass",
            f"The stated {stated:.2f} ct fits the size: {band.low:.2f} to {band.high:.2f} ct by solid and rule.",
            figure=stated,
            limit=band.high,
            unit="ct",
            limit_source=f"solid of the measured stone and {gem.rule_source or 'its density'}",
            place=gem.name,
        )
        return
    far = abs(stated - band.value) > 2 * band.plus_minus
    heavy = stated > band.value
    says = (
        f"The stated {stated:.2f} ct cannot be {gem.material} of {size}: "
        if far
        else f"The stated {stated:.2f} ct does not fit {gem.material} of {size}: "
    )
    says += f"{band.low:.2f} to {band.high:.2f} ct by solid and rule."
    if gem.could_be:
        says += f" It would fit {' or '.join(gem.could_be)} of that size."
    yield Remark(
        "gems",
        Level.HALT if far else Level.HEED,
        "stone-mass",
        says,
        figure=stated,
        limit=band.high if heavy else band.low,
        unit="ct",
        limit_source=f"solid of the measured stone and {gem.rule_source or 'its density'}",
        place=gem.name,
        change="weigh the stone loose and measure it again; if both stand, have the material tested before it is set",
    )


def shape_remarks(gem: Gem, cut: CutFact, material: GemFact) -> Iterator[Remark]:
    """Proportions outside what is usual for the cut, and girdles that are trouble."""
    colour = material.weighed != "diamond"
    deepest = (cut.colour_depth_max_percent or cut.depth_max_percent) if colour else cut.depth_max_percent
    shallow = gem.depth_percent < cut.depth_min_percent
    if shallow or gem.depth_percent > deepest:
        yield Remark(
            "gems",
            Level.HEED,
            "stone-depth",
            f"The depth is {gem.depth_percent:.1f} % of the width; usual for the cut ({cut.title}) are "
            f"{cut.depth_min_percent:g} to {deepest:g} %.",
            figure=gem.depth_percent,
            limit=cut.depth_min_percent if shallow else deepest,
            unit="%",
            limit_source=cut.source,
            place=gem.name,
            change="measure the depth again, table to culet"
            + ("" if shallow else "; the seat and the setting's height must make room for it"),
        )
    table = gem.table_percent
    low, high = cut.table_min_percent, cut.table_max_percent
    if table is not None and low is not None and high is not None and not low <= table <= high:
        yield _unusual(gem, cut, "stone-table", "table", table, low, high, "%")
    if not cut.ratio_min <= gem.ratio <= cut.ratio_max:
        yield _unusual(gem, cut, "stone-ratio", "length over width", gem.ratio, cut.ratio_min, cut.ratio_max, "")
    if cut.family is not Family.CABOCHON and "girdle" not in gem.assumed:
        thin = gem.girdle_percent < cut.girdle_min_percent
        if thin or gem.girdle_percent > cut.girdle_max_percent:
            yield Remark(
                "gems",
                Level.HEED,
                "stone-girdle",
                f"The girdle is {gem.girdle_percent:.1f} % of the width ({gem.girdle_word}).",
                figure=gem.girdle_percent,
                limit=cut.girdle_min_percent if thin else cut.girdle_max_percent,
                unit="%",
                limit_source=cut.source,
                place=gem.name,
                change="protect the edge: a seat that touches crown and pavilion, not the girdle"
                if thin
                else "cut the seat to the girdle's height",
            )


def _unusual(gem: Gem, cut: CutFact, kind: str, what: str, figure: float, low: float, high: float, unit: str) -> Remark:
    """A proportion that is rare but nobody's fault."""
    return Remark(
        "gems",
        Level.FINE,
        kind,
        f"An unusual {cut.title}: {what} {figure:.3g}{unit and ' ' + unit}, usually {low:g} to {high:g}.",
        figure=figure,
        limit=low if figure < low else high,
        unit=unit,
        limit_source=cut.source,
        place=gem.name,
    )


def treatment_remark(gem: Gem, material: GemFact) -> Iterator[Remark]:
    """An unknown treatment that may be one that forbids heat and cleaning."""
    if gem.treatment == "unknown" and material.treatments:
        yield Remark(
            "gems",
            Level.HEED,
            "stone-treatment",
            f"Nothing is said of a treatment; on {material.title} reckon with {', '.join(material.treatments)}.",
            place=gem.name,
            change="ask for the seller's paper or a laboratory's; until then no torch, ultrasound, steam or pickle",
        )
    elif gem.torch is Bears.NEVER and gem.ultrasonic is Bears.NEVER:
        yield Remark(
            "gems",
            Level.FINE,
            "stone-care",
            f"The {material.title} bears neither torch nor ultrasound: set it last.",
            place=gem.name,
        )
