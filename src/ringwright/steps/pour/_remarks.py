"""What the step says of a pour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ringwright.steps.pour._cavity import Cavity
from ringwright.steps.pour._rules import PourRows
from ringwright.steps.pour._window import Window
from ringwright.terms.alloy import Alloy
from ringwright.terms.pour import PoreZone, PourFigures, TightPlace
from ringwright.terms.remark import Level, Remark
from ringwright.terms.tree import InvestmentFact
from ringwright.terms.workshop import Casting, CastingPlant

UNMEASURED = (
    "No measured freezing time of a ring in investment was found in print: the times are reckoned, and proved against "
    "exact solutions only. A thermocouple log of your own can be compared with them."
)
SEARCH = 'What each of them freezes like is reckoned by `plan --thorough`, or with search = "thorough" under [tree].'
_MOST_TOLD = 3


@dataclass(frozen=True, kw_only=True)
class Said:
    """What remarks are made of."""

    result: PourFigures
    cavity: Cavity
    window: Window
    alloy: Alloy
    investment: InvestmentFact
    plant: CastingPlant
    rows: PourRows
    section_mm: float
    at_best_percent: float


def remarks(said: Said) -> tuple[Remark, ...]:
    """All remarks, the gravest of a kind first."""
    return (
        *_settings(said),
        *_ways(said),
        *_filling(said),
        *_feeding(said),
        *_feeders(said),
        *_practice(said),
        *_experiments(said),
        *_limits(said),
        *_measured(said),
        Remark("pour", Level.FINE, "unmeasured", UNMEASURED),
        Remark(
            "pour",
            Level.FINE,
            "cautions",
            "Molten metal, hot flask, fumes and silica dust can hurt: the casting card has the cautions. Local codes "
            "and licensed practice decide.",
        ),
    )


def _settings(said: Said) -> Iterator[Remark]:
    r = said.result
    yield Remark(
        "pour",
        Level.FINE,
        "settings",
        f"Flask {r.flask_C:.0f} °C, melt {r.melt_C:.0f} °C ({r.superheat_C:.0f} K above the liquidus): full after "
        f"{r.fill_s:.2f} s, pieces solid after {r.frozen_s:.0f} s. {r.why}",
        figure=r.flask_C,
        unit="°C",
    )
    h = r.habit
    if h is None:
        return
    same = abs(h.flask_C - r.flask_C) < 1 and abs(h.melt_C - r.melt_C) < 1
    if not same:
        yield Remark(
            "pour",
            Level.FINE,
            "habit",
            f"Your usual {h.flask_C:.0f} °C and {h.melt_C:.0f} °C would give: {h.verdict}; "
            f"{h.reserve_percent:.0f} % of the heat left at the worst place ({h.reserve_low_percent:.0f} % at the cold "
            f"end of your spread), pieces solid after {h.frozen_s:.0f} s, {h.pore_mm3:.2f} mm³ not fed. The proposal: "
            f"{r.chosen.reserve_percent:.0f} % ({r.chosen.reserve_low_percent:.0f} %), {r.frozen_s:.0f} s, "
            f"{r.pore_mm3:.2f} mm³.",
            figure=h.flask_C,
            unit="°C",
        )


def _measured(said: Said) -> Iterator[Remark]:
    """The shop's own thermocouples beside the computed cooling."""
    limit = said.rows.limit("log")
    far = limit.heed_figure or 1.0
    for one in said.result.compared:
        if one.ratio is None or one.solidus_s is None:
            says, ratio = f"the log ends before it falls through the solidus ({said.alloy.solidus_C:.0f} °C)", None
        else:
            later = one.solidus_s - one.forecast_solidus_s
            ratio = one.ratio
            says = (
                f"it passed the solidus after {one.solidus_s:.1f} s, computed {one.forecast_solidus_s:.1f} s: "
                f"{abs(later):.1f} s {'later' if later > 0 else 'sooner'} than computed ({ratio:.2f} of the time)"
            )
            if one.freezing_ratio is not None:
                says += f"; from liquidus to solidus {one.freezing_ratio:.2f} of the computed time"
        off = ratio is not None and not 1.0 / far <= ratio <= far
        yield Remark(
            "pour",
            Level.HEED if off else Level.FINE,
            "thermocouple",
            f"Your own thermocouple, {one.where}: {says}.",
            figure=ratio,
            limit=(far if ratio is not None and ratio > 1 else 1.0 / far) if off else None,
            limit_source=limit.source if off else "",
            place=one.where,
            change=(
                "look at the zero of the log's time and at where the thermocouple sat; if both are right, take all "
                "computed times of this investment by that factor"
            )
            if off
            else "",
        )


def _ways(said: Said) -> Iterator[Remark]:
    """How the metal is led in, and what the other ways would give."""
    r = said.result
    if r.led_why:
        yield Remark("pour", Level.FINE, "led", f"The metal is led in so: {r.led_why}")
        usual = next((one for one in r.variants if one.usual), None)
        if usual is not None and usual.pore_mm3 is not None:
            yield Remark(
                "pour",
                Level.FINE,
                "led-usual",
                f"{usual.what[:1].upper()}{usual.what[1:]}, flask {usual.flask_C:.0f} °C and melt "
                f"{usual.melt_C:.0f} °C, would leave {usual.reserve_percent:.0f} % of the heat at the worst place and "
                f"{usual.pore_mm3:.2f} mm³ not fed.",
                figure=usual.pore_mm3,
                unit="mm³",
            )
    elif len(r.variants) > 1:
        most = max(r.variants[1:], key=lambda one: one.reserve_low_percent)
        yield Remark(
            "pour",
            Level.FINE,
            "ways",
            f"{len(r.variants) - 1} other ways of leading the metal in were compared by filling alone: "
            f"{most.what} leaves most heat at the worst place, {most.reserve_percent:.0f} %, against "
            f"{r.variants[0].reserve_percent:.0f} % by the same reckoning. {SEARCH}",
        )


def _filling(said: Said) -> Iterator[Remark]:
    r, limit = said.result, said.rows.limit("misrun")
    heed, halt = limit.heed_figure or 0.0, limit.halt_figure or 0.0
    worst: TightPlace | None = r.tightest[0] if r.tightest else None
    left = r.chosen.reserve_low_percent
    if worst is None:
        return
    place = f"{worst.piece}: {worst.place}"
    if left < heed:
        stops = left <= halt and said.at_best_percent <= halt
        yield Remark(
            "pour",
            Level.HALT if stops else Level.HEED,
            "misrun",
            _misrun(worst, left, said.at_best_percent) + ("; it stops before the place is full." if stops else "."),
            figure=left,
            limit=halt if stops else heed,
            unit="%",
            limit_source=limit.source,
            change=_fill_remedy(said, worst),
            place=place,
            point_mm=worst.at_mm,
        )
    else:
        yield Remark(
            "pour",
            Level.FINE,
            "fills",
            f"All places fill; least to spare at {worst.place}: {worst.reserve_percent:.0f} % of the heat left.",
            figure=left,
            limit=heed,
            unit="%",
            limit_source=limit.source,
            place=place,
            point_mm=worst.at_mm,
        )
    thin = min((mm for mm, _ in said.cavity.thin_mm.values()), default=None)
    if thin is not None and 2 * r.edge_mm > thin:
        yield Remark(
            "pour",
            Level.HALT,
            "capillary",
            f"The pressure fills round channels down to {2 * r.edge_mm:.2f} mm against surface tension; the thinnest "
            f"part has {thin:.2f} mm.",
            figure=2 * r.edge_mm,
            limit=thin,
            unit="mm",
            limit_source="exact: 2 gamma |cos| / r against the driving pressure",
            change="cast under vacuum or in a centrifuge, or raise the head of metal",
        )


def _misrun(worst: TightPlace, low_percent: float, best_percent: float) -> str:
    if worst.reserve_percent <= -100:
        return f"{worst.piece}, {worst.place} (wall {worst.wall_mm:.2f} mm): the pressure does not drive the metal in"
    return (
        f"{worst.piece}, {worst.place} (wall {worst.wall_mm:.2f} mm): the metal comes after {worst.fill_s:.2f} s with "
        f"{worst.reserve_percent:.0f} % of its heat, {low_percent:.0f} % at the cold end of your spread, "
        f"{best_percent:.0f} % if the mould takes heat as slowly as it may"
    )


def _fill_remedy(said: Said, worst: TightPlace) -> str:
    ways = []
    flask, melt = said.window.bounds_C()
    if said.result.flask_C + 20 <= min(flask[1], said.investment.max_oven_C):
        ways.append("a hotter flask before a hotter melt")
    if said.result.melt_C + 20 <= min(melt[1], said.investment.max_metal_C):
        ways.append("a hotter melt")
    ways.append(f"a second gate nearer to {worst.place.split(',')[0]}")
    ways.append(f"a wall thicker than {worst.wall_mm:.1f} mm there")
    if said.plant.method is Casting.GRAVITY:
        ways.insert(0, "vacuum or a centrifuge")
    return "; or ".join(ways)


def _feeding(said: Said) -> Iterator[Remark]:
    r, limit = said.result, said.rows.limit("pore")
    heed, halt = limit.heed_figure or 0.0, limit.halt_figure or 1e9
    told = [zone for zone in r.pores if zone.ball_mm >= heed]
    for zone in told[:_MOST_TOLD]:
        yield Remark(
            "pour",
            Level.HALT if zone.ball_mm >= halt else Level.HEED,
            "pore",
            f"{zone.piece}, {zone.place}: {zone.pool_mm3:.1f} mm³ of metal are cut off from feed after "
            f"{zone.cut_off_s:.1f} s and solid after {zone.frozen_s:.1f} s; {zone.pore_mm3:.3f} mm³ of shrinkage are "
            f"lacking, a hole of {zone.ball_mm:.2f} mm if it gathers in one.",
            figure=zone.ball_mm,
            limit=halt if zone.ball_mm >= halt else heed,
            unit="mm",
            limit_source=limit.source,
            place=f"{zone.piece}: {zone.place}",
            point_mm=zone.at_mm,
            change=_feed_remedy(said, zone),
        )
    rest = told[_MOST_TOLD:]
    if rest:
        yield Remark(
            "pour",
            Level.HEED,
            "pores-small",
            f"{len(rest)} smaller places are cut off from feed too: {sum(z.pore_mm3 for z in rest):.3f} mm³ in all, "
            f"none a hole of more than {rest[0].ball_mm:.2f} mm.",
            figure=rest[0].ball_mm,
            limit=heed,
            unit="mm",
            limit_source=limit.source,
            place=f"{rest[0].piece}: {rest[0].place}",
            point_mm=rest[0].at_mm,
            change="what helps the larger ones; or a wall that grows toward the gate",
        )
    if not told:
        yield Remark(
            "pour",
            Level.FINE,
            "fed",
            f"Every heavy place is fed until it is solid; {r.pore_mm3:.3f} mm³ of shrinkage are lacking in all.",
            figure=r.pore_mm3,
            unit="mm³",
        )


def _feeders(said: Said) -> Iterator[Remark]:
    """Whether each blind feeder outlasts what it is to feed."""
    for one in said.result.feeders:
        late = min(one.neck_s, one.feeder_s)
        early = late < one.fed_s
        what = "its neck" if one.neck_s < one.feeder_s else "it"
        yield Remark(
            "pour",
            Level.HEED if early else Level.FINE,
            "feeder",
            f"The blind feeder at {one.place.split(',')[0]} gives metal for {late:.1f} s; the place that it is to feed "
            f"takes feed for {one.fed_s:.1f} s: " + (f"{what} freezes too early." if early else "it lasts."),
            figure=late,
            limit=one.fed_s,
            unit="s",
            limit_source="our own: a feeder freezes after what it feeds",
            place=f"{one.piece}: {one.place}",
            point_mm=one.at_mm,
            change="set it nearer to the middle of the heavy place, or set a gate there instead" if early else "",
        )


def _feed_remedy(said: Said, zone: PoreZone) -> str:
    if zone.cut_off_s >= 0.9 * said.result.sprue_frozen_s:
        return "a sprue that freezes later: wider, or shorter to the button"
    searched = (
        "" if said.result.led_why or len(said.result.variants) < 2 else "; or let the gates be searched (--thorough)"
    )
    return (
        f"a gate or a blind feeder at {zone.place.split(',')[0]} ([tree] gates, feeders); or a thicker way from the "
        f"gate to it; or less metal there (hollow it out){searched}"
    )


def _practice(said: Said) -> Iterator[Remark]:
    window, rows = said.window, said.rows
    low, high = window.flask.flask_low_C, window.flask.flask_high_C
    asked = [("The flask", said.result.flask_C, False)]
    if said.result.habit is not None:
        asked.append(("Your usual flask", said.result.habit.flask_C, True))
    for what, flask_C, usual in asked:
        if low <= flask_C <= high:
            continue
        others = [
            f"{r.flask_low_C:.0f} to {r.flask_high_C:.0f} °C by {r.source.split(':')[0]}"
            for r in rows.flasks
            if r.key == window.flask.key and r is not window.flask
        ]
        longer = ""
        if usual and said.result.habit is not None:
            longer = f" Solid after {said.result.habit.frozen_s:.0f} s, against {said.result.frozen_s:.0f} s."
        yield Remark(
            "pour",
            Level.HEED,
            "flask-practice",
            f"{what} of {flask_C:.0f} °C is {'hotter' if flask_C > high else 'colder'} than is usual for "
            f"{window.flask.section} sections ({said.section_mm:.1f} mm): {low:.0f} to {high:.0f} °C."
            + (f" Others: {'; '.join(others)}." if others else "")
            + longer,
            figure=flask_C,
            limit=high if flask_C > high else low,
            unit="°C",
            limit_source=window.flask.source,
            change=f"a flask of {low:.0f} to {high:.0f} °C",
        )


def _experiments(said: Said) -> Iterator[Remark]:
    thin = min((mm for mm, _ in said.cavity.thin_mm.values()), default=99.0)
    habit = said.result.habit
    flasks = {said.result.flask_C} | ({habit.flask_C} if habit is not None else set())
    for row in said.rows.experiments:
        if row.alloy != said.alloy.key or thin >= (row.section_to_mm or 0.0):
            continue
        for flask_C in sorted(flasks):
            if row.poor_below_C is not None and flask_C < row.poor_below_C:
                yield Remark(
                    "pour",
                    Level.HEED,
                    "experiment",
                    f"With a flask of {flask_C:.0f} °C walls of {thin:.2f} mm are likely to fill poorly: {row.says}.",
                    figure=flask_C,
                    limit=row.poor_below_C,
                    unit="°C",
                    limit_source=row.source,
                    change=f"a flask of {row.poor_below_C:.0f} °C or more",
                )
            elif row.fills_from_C is not None and flask_C >= row.fills_from_C:
                yield Remark(
                    "pour",
                    Level.FINE,
                    "experiment",
                    f"Walls of {thin:.2f} mm: {row.says}.",
                    figure=flask_C,
                    limit=row.fills_from_C,
                    unit="°C",
                    limit_source=row.source,
                )


def _limits(said: Said) -> Iterator[Remark]:
    r, investment = said.result, said.investment
    if r.melt_C > investment.max_metal_C:
        yield Remark(
            "pour",
            Level.HEED,
            "mould-heat",
            f"A melt of {r.melt_C:.0f} °C is more than {investment.title} bears in regular work.",
            figure=r.melt_C,
            limit=investment.max_metal_C,
            unit="°C",
            limit_source=investment.source,
            change="a phosphate-bonded investment or a coating, or an alloy that melts lower",
        )
    if r.flask_C > investment.max_oven_C:
        yield Remark(
            "pour",
            Level.HEED,
            "oven-heat",
            f"A flask of {r.flask_C:.0f} °C is above the hottest regular hold of {investment.title}.",
            figure=r.flask_C,
            limit=investment.max_oven_C,
            unit="°C",
            limit_source=investment.source,
            change=f"at most {investment.max_oven_C:.0f} °C",
        )
    if r.drive_kPa > 0 and r.gas_kPa > 0.8 * r.drive_kPa and r.fill_s > 1.0:
        yield Remark(
            "pour",
            Level.HEED,
            "gas",
            f"Gas in the mould holds the metal back: it fills in {r.fill_s:.1f} s because "
            f"{investment.title.lower()} lets gas through slowly.",
            figure=r.fill_s,
            limit=1.0,
            unit="s",
            limit_source="our own: filling then takes as long as thin walls take to freeze",
            change="a more permeable investment, vents, or a perforated flask under vacuum",
        )
