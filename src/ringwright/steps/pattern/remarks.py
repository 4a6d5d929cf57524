"""What the pattern's figures say of the design."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi

from ringwright.terms.pattern import OnPrinter, PatternFigures, PrintRuleFact, ResinFact, StockFact
from ringwright.terms.remark import Level, Remark
from ringwright.terms.workshop import Habits

STEP = "pattern"


@dataclass(frozen=True, kw_only=True)
class Found:
    """What the remarks are drawn from."""

    result: PatternFigures
    habits: Habits
    material: ResinFact
    stock: tuple[StockFact, ...]
    rules: PrintRuleFact
    own_contraction: bool
    setting_expansion_percent: float
    cavities: int
    size_step_mm: float


def remarks(found: Found) -> tuple[Remark, ...]:
    """All remarks, in the order of the work."""
    return (
        *_size(found),
        *_contraction(found),
        *_stock(found),
        *wall_remarks(found.result, found.habits),
        *_resin(found),
        *_plate(found),
    )


def _size(found: Found) -> Iterator[Remark]:
    r = found.result
    causes = {
        "contraction": r.spread_contraction_mm,
        "the stock taken inside": r.spread_stock_mm,
        "the print": r.spread_print_mm,
    }
    most = max(causes, key=lambda cause: causes[cause])
    wide = r.size_spread > 0.5
    yield Remark(
        STEP,
        Level.HEED if wide else Level.FINE,
        "size-spread",
        f"The finished ring will be {r.inner_diameter_mm.value:.2f} mm inside, give or take "
        f"{r.inner_diameter_mm.plus_minus:.2f} mm, which is {r.size_spread:.2f} of a size; most of it from {most}.",
        figure=r.size_spread,
        limit=0.5,
        unit="sizes",
        limit_source="half of one size of the client's system: beyond it the next size is as likely",
        place="finger hole",
        change=_narrower(most) if wide else "",
    )
    if r.size_off is not None and abs(r.size_off) > 0.5:
        smaller = r.size_off < 0
        yield Remark(
            STEP,
            Level.HEED,
            "size-off",
            f"After casting and finishing the ring will be {abs(r.size_off):.2f} of a size too "
            f"{'small' if smaller else 'large'}.",
            figure=abs(r.size_off),
            limit=0.5,
            unit="sizes",
            limit_source="half of one size of the client's system",
            place="finger hole",
            change=f"draw the finger hole {abs(r.size_off) * found.size_step_mm / pi:.2f} mm "
            f"{'larger' if smaller else 'smaller'} in diameter, or plan to size the ring on the mandrel",
        )


def _narrower(cause: str) -> str:
    return {
        "contraction": "measure pattern and casting of a few rings and enter habits.contraction with its spread",
        "the stock taken inside": "gauge the hole while filing and polishing, and enter a smaller habits.stock_spread",
        "the print": "print a test ring, measure it, and enter the printer's spread",
    }[cause]


def _contraction(found: Found) -> Iterator[Remark]:
    r = found.result
    least = r.metal_contraction_percent - r.mould_expansion_percent - found.setting_expansion_percent
    most = r.metal_contraction_percent
    given = r.contraction_percent
    bounds = "the metal's contraction from its solidus, and the same less what the mould expands in setting and heating"
    if given.low > most or given.high < least:
        above = given.low > most
        yield Remark(
            STEP,
            Level.HEED,
            "contraction-odd",
            f"A contraction of {given.value:.2f} % is {'more' if above else 'less'} than metal and mould alone explain "
            f"({least:.2f} to {most:.2f} %).",
            figure=given.value,
            limit=most if above else least,
            unit="%",
            limit_source=bounds,
            place="whole ring",
            change="measure the cured pattern as well as the casting: a warm wax or an under-cured resin shrinks too",
        )
        return
    own = found.own_contraction
    yield Remark(
        STEP,
        Level.FINE,
        "contraction",
        f"Contraction {given.value:.2f} ± {given.plus_minus:.2f} %, "
        + ("as this workshop measured it." if own else "from the facts; this workshop has not measured its own."),
        figure=given.value,
        limit=most,
        unit="%",
        limit_source=bounds,
        place="whole ring",
    )


def _stock(found: Found) -> Iterator[Remark]:
    rows = [row for row in found.stock if row.stock_mm is not None]
    outside = found.habits.polish_stock_mm + found.habits.filing_stock_mm
    if not rows:
        return
    low, high = (pick(rows, key=lambda row: row.stock_mm or 0.0) for pick in (min, max))
    for name, value in (("outside", outside), ("inside the finger hole", found.habits.inside_stock_mm)):
        if value > (high.stock_mm or 0.0):
            yield Remark(
                STEP,
                Level.HEED,
                "stock-odd",
                f"A stock of {value:.2f} mm {name} is more than any source takes from a surface.",
                figure=value,
                limit=high.stock_mm,
                unit="mm",
                limit_source=high.source,
                place=name,
                change="look at the habits polish_stock, filing_stock and inside_stock: they are per surface",
            )
    if outside < (low.stock_mm or 0.0) / 2:
        yield Remark(
            STEP,
            Level.HEED,
            "stock-odd",
            f"A stock of {outside:.2f} mm outside is less than half of what any source takes in filing and polish.",
            figure=outside,
            limit=low.stock_mm,
            unit="mm",
            limit_source=low.source,
            place="outside",
            change="weigh a ring before and after finishing, and enter polish_stock and filing_stock",
        )


def wall_remarks(r: PatternFigures, habits: Habits) -> Iterator[Remark]:
    """What the thinnest wall says, where it is known."""
    if r.cast_wall_mm is None or r.finished_wall_mm is None:
        return
    least = habits.minimum_wall_mm
    thin = r.cast_wall_mm < least
    yield Remark(
        STEP,
        Level.HEED if thin else Level.FINE,
        "wall-cast",
        f"The thinnest wall is {r.cast_wall_mm:.2f} mm as cast and {r.finished_wall_mm:.2f} mm when finished.",
        figure=r.cast_wall_mm,
        limit=least,
        unit="mm",
        limit_source="what this workshop casts (habits.minimum_wall)",
        place="thinnest wall",
        change=f"make it {least - r.cast_wall_mm:.2f} mm thicker" if thin else "",
    )
    if r.finished_wall_mm <= 0:
        yield Remark(
            STEP,
            Level.HALT,
            "wall-gone",
            "The stock for filing and polish is more than the thinnest wall has.",
            figure=r.finished_wall_mm,
            limit=0.0,
            unit="mm",
            limit_source="geometry",
            place="thinnest wall",
            change="thicken the wall, or leave that place as cast",
        )


def _resin(found: Found) -> Iterator[Remark]:
    if found.cavities:
        yield Remark(
            STEP,
            Level.HALT,
            "cavity",
            f"The solid shuts in {found.cavities} hollow{'s' if found.cavities > 1 else ''}: resin stays in it, and no "
            "investment can enter.",
            figure=float(found.cavities),
            limit=0.0,
            limit_source="geometry",
            place="inside the metal",
            change="open the hollow to the outside, or fill it",
        )
    if found.material.caution:
        yield Remark(STEP, Level.FINE, "caution", found.material.caution, place="at the printer")


def _plate(found: Found) -> Iterator[Remark]:
    on = found.result.printers
    fitting = [o for o in on if o.fits]
    if on and not fitting:
        yield Remark(
            STEP,
            Level.HALT,
            "plate",
            f"The pattern fits no printer of the shop: it needs {_needs(on[0])}.",
            place="whole ring",
            change="print it in parts, carve it, or have it printed elsewhere",
        )
    elif len(fitting) < len(on):
        names = ", ".join(o.printer for o in on if not o.fits)
        yield Remark(
            STEP,
            Level.HEED,
            "plate",
            f"The pattern does not fit {names}.",
            place="whole ring",
            change=f"print it on {found.result.printer}",
        )
    chosen = next((o for o in on if o.printer == found.result.printer), None)
    if chosen is None:
        return
    if chosen.cups:
        many = chosen.cups > 1
        yield Remark(
            STEP,
            Level.HEED,
            "resin-trapped",
            f"{chosen.cups} {'hollows hold resin or suck' if many else 'hollow holds resin or sucks'} at the plate, "
            f"{chosen.deepest_cup_mm:.1f} mm deep.",
            figure=chosen.deepest_cup_mm,
            limit=found.rules.cup_mm,
            unit="mm",
            limit_source=found.rules.source,
            place="hollow of the pattern",
            change="vent the hollow, or wash it out with a syringe before the cure",
        )
    yield Remark(
        STEP,
        Level.FINE,
        "plate-place",
        f"On {chosen.printer}: {chosen.orientation}; {chosen.layers} layers in {chosen.hours:.1f} h, supports at "
        f"{chosen.islands} place{'' if chosen.islands == 1 else 's'} and {chosen.overhang_mm2:.0f} mm² of surface.",
        figure=float(chosen.islands),
        place="whole ring",
    )


def _needs(on: OnPrinter) -> str:
    length, width = on.footprint_mm
    return f"{length:.0f} × {width:.0f} mm and {on.height_mm:.0f} mm of height"
