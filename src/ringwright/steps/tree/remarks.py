"""What the tree's figures say of the design and of the workshop."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ringwright.steps.tree.charge import forbidden
from ringwright.steps.tree.feeders import Fed
from ringwright.steps.tree.gates import Proposal
from ringwright.steps.tree.mould import by_rule
from ringwright.terms.alloy import Alloy
from ringwright.terms.facts import used
from ringwright.terms.remark import Level, Point, Remark
from ringwright.terms.tree import (
    CastingLossFact,
    ClearanceFact,
    CrucibleRule,
    InvestmentFact,
    PowderRule,
    SprueRule,
    TreeFigures,
)
from ringwright.terms.workshop import Casting, Crucible, Flask, Habits

STEP = "tree"


@dataclass(frozen=True, kw_only=True)
class Found:
    """What the remarks are drawn from."""

    result: TreeFigures
    alloy: Alloy
    investment: InvestmentFact
    habits: Habits
    casting: Casting
    crucibles: tuple[Crucible, ...]
    flask: Flask | None
    proposals: tuple[Proposal, ...]
    unfed: tuple[tuple[Point, float], ...]
    feeding: tuple[Fed, ...] = ()
    needed_mm: float
    heaviest_at: Point
    heaviest_piece: str
    shortened: bool
    rules: tuple[SprueRule, ...]
    clearances: tuple[ClearanceFact, ...]
    losses: tuple[CastingLossFact, ...]
    crucible_rules: tuple[CrucibleRule, ...]
    powder_rules: tuple[PowderRule, ...]

    def rule(self, key: str) -> SprueRule:
        """The rule of that key that is used."""
        return used(self.rules, key, "sprue rule")


def remarks(found: Found) -> tuple[Remark, ...]:
    """All remarks, in the order of the work."""
    return (
        *_gates(found),
        *_feeders(found),
        *_sprue(found),
        *_flask(found),
        *_mould(found),
        *_heat(found),
        *_metal(found),
        *_crucible(found),
        *_cautions(),
    )


def _gates(found: Found) -> Iterator[Remark]:
    for gate in found.result.gates:
        yield Remark(
            STEP,
            Level.FINE,
            "gate",
            f"Gate on {gate.piece}: {gate.why}; the metal behind it holds a ball of {gate.ball_mm:.1f} mm.",
            figure=gate.ball_mm,
            unit="mm",
            place=f"gate on {gate.piece}",
            point_mm=gate.point_mm,
        )
    choke, stone = found.rule("choke"), found.rule("stone")
    one_each = len(found.proposals) > 1
    number = found.rule("number")
    for point, size in found.unfed:
        yield Remark(
            STEP,
            Level.HEED,
            "heavy-cut-off",
            f"A heavy place (a ball of {size:.1f} mm) is fed only through thinner metal: it may turn porous.",
            figure=size,
            limit=size * (choke.use_share or 1.0),
            unit="mm",
            limit_source=f"the way from the gate should hold a ball of {choke.use_share:.0%} of it; {choke.source}",
            place="heavy place away from the gates",
            point_mm=point,
            change="set a gate or a blind feeder there ([tree] gates, feeders), thicken the way to it, or hollow the "
            "heavy place",
        )
    for proposal in found.proposals:
        used_gates = 1 if one_each else len(found.result.gates)
        if proposal.wanted > used_gates:
            yield Remark(
                STEP,
                Level.HEED,
                "one-gate",
                f"{proposal.gates[0].piece} has one gate, though a piece so heavy or wide has two by the trade's rule.",
                figure=1.0,
                limit=float(proposal.wanted),
                limit_source=number.source,
                place=f"gates of {proposal.gates[0].piece}",
                point_mm=proposal.gates[0].point_mm,
                change="cast it alone with two gates" if one_each else "give two gates ([tree] gates)",
            )
        for n in proposal.in_hole:
            yield Remark(
                STEP,
                Level.HEED,
                "gate-in-hole",
                "A gate of the maker's lies in the finger hole: its stub is hard to reach and changes the size.",
                place="finger hole",
                point_mm=proposal.gates[n].point_mm,
                change="set the gate on the outside",
            )
        for n in proposal.at_stone:
            yield Remark(
                STEP,
                Level.HEED,
                "gate-at-stone",
                "A gate of the maker's lies at a stone's seat: the seat is lost when the sprue is cut.",
                limit=stone.least_mm,
                unit="mm",
                limit_source=stone.source,
                place="seat of a stone",
                point_mm=proposal.gates[n].point_mm,
                change=f"set the gate at least {stone.least_mm:.1f} mm from the stone",
            )


def _feeders(found: Found) -> Iterator[Remark]:
    lasts, stone = found.rule("feeder"), found.rule("stone")
    for one in found.result.feeders:
        yield Remark(
            STEP,
            Level.FINE,
            "feeder",
            f"Blind feeder on {one.piece}: a ball of {one.diameter_mm:.1f} mm on a neck of "
            f"{one.neck_diameter_mm:.1f} mm; its volume over surface is "
            f"{one.modulus_mm / one.place_modulus_mm:.2f} times that of the place that it feeds.",
            figure=one.modulus_mm / one.place_modulus_mm,
            limit=lasts.use_share,
            limit_source=lasts.source,
            place=f"feeder on {one.piece}",
            point_mm=one.point_mm,
        )
    for fed in found.feeding:
        for n in fed.in_hole:
            yield Remark(
                STEP,
                Level.HEED,
                "feeder-in-hole",
                "A feeder of the maker's lies in the finger hole: its neck is hard to reach and changes the size.",
                place="finger hole",
                point_mm=fed.feeders[n].point_mm,
                change="set the feeder on the outside",
            )
        for n in fed.at_stone:
            yield Remark(
                STEP,
                Level.HEED,
                "feeder-at-stone",
                "A feeder of the maker's lies at a stone's seat: the seat is lost when the feeder is cut off.",
                limit=stone.least_mm,
                unit="mm",
                limit_source=stone.source,
                place="seat of a stone",
                point_mm=fed.feeders[n].point_mm,
                change=f"set the feeder at least {stone.least_mm:.1f} mm from the stone",
            )


def _sprue(found: Found) -> Iterator[Remark]:
    r, test = found.result, found.rule("modulus")
    thin = r.sprue_diameter_mm < found.needed_mm - 1e-9
    light = found.rule("ring-light" if r.pieces_g <= (found.rule("ring-light").up_to_g or 0.0) else "ring-heavy")
    yield Remark(
        STEP,
        Level.HEED if thin else Level.FINE,
        "sprue",
        f"Sprue {r.sprue_diameter_mm:.1f} mm: its volume over surface is {r.sprue_modulus_mm / r.piece_modulus_mm:.2f} "
        f"times that of the heaviest part; {'it freezes too early' if thin else 'it freezes after it'}. "
        f"(Rule of thumb for such a ring: {light.least_mm:.0f} to {light.most_mm:.0f} mm.)",
        figure=r.sprue_diameter_mm,
        limit=found.needed_mm,
        unit="mm",
        limit_source=test.source,
        place=f"heaviest part of {found.heaviest_piece}",
        point_mm=found.heaviest_at,
        change=f"take a sprue of at least {found.needed_mm:.1f} mm" if thin else "",
    )
    key = "length-platinum" if found.alloy.metal in ("platinum", "palladium") else "length"
    rule = found.rule(key)
    least, most = rule.least_mm or 0.0, rule.most_mm or float("inf")
    if not least <= r.sprue_length_mm <= most + 1e-9:
        long = r.sprue_length_mm > most
        yield Remark(
            STEP,
            Level.HEED,
            "sprue-length",
            f"A sprue of {r.sprue_length_mm:.1f} mm is {'long: it cools before the piece' if long else 'short'}.",
            figure=r.sprue_length_mm,
            limit=most if long else least,
            unit="mm",
            limit_source=rule.source,
            place="sprue",
            change=f"{'shorten' if long else 'lengthen'} it to {least:.0f} to {most:.0f} mm",
        )
    elif found.shortened:
        yield Remark(
            STEP,
            Level.HEED,
            "sprue-shortened",
            f"The sprue is shortened to {r.sprue_length_mm:.1f} mm so that the tree fits a flask of the workshop.",
            figure=r.sprue_length_mm,
            limit=found.habits.sprue_length_mm,
            unit="mm",
            limit_source="usual length of this workshop (habits.sprue_length)",
            place="sprue",
            change="a taller flask takes the usual sprue",
        )


def _flask(found: Found) -> Iterator[Remark]:
    r = found.result
    wall, end = (used(found.clearances, key, "clearance") for key in ("wall", "end"))
    if found.flask is None:
        yield Remark(
            STEP,
            Level.HALT,
            "flask",
            f"No flask of the workshop takes the tree: it needs {r.flask_diameter_mm:.0f} mm across and "
            f"{r.flask_height_mm:.0f} mm of height.",
            figure=r.flask_height_mm,
            limit_source=f"{wall.source} (wall); {end.source} (end)",
            unit="mm",
            place="flask",
            change=f"get a flask of at least {r.flask_diameter_mm:.0f} × {r.flask_height_mm:.0f} mm"
            + (", or cast fewer pieces at a time" if len(r.pieces) > 1 else ""),
        )
        return
    yield Remark(
        STEP,
        Level.FINE,
        "flask",
        f"Flask {found.flask.name}: {r.wall_clearance_mm:.1f} mm of investment at the wall, "
        f"{r.end_clearance_mm:.1f} mm at the end.",
        figure=r.wall_clearance_mm,
        limit=wall.free_mm,
        unit="mm",
        limit_source=wall.source,
        place="flask",
    )
    tall = used(found.clearances, "solid-flask-height", "clearance")
    if found.casting is Casting.VACUUM and not found.flask.perforated and r.flask_height_mm > tall.free_mm:
        yield Remark(
            STEP,
            Level.HEED,
            "flask-solid",
            f"The flask is {r.flask_height_mm:.0f} mm tall and its wall is not perforated: vacuum acts through the end "
            "only.",
            figure=r.flask_height_mm,
            limit=tall.free_mm,
            unit="mm",
            limit_source=tall.source,
            place="flask",
            change="take a perforated flask, or a lower one",
        )


def _mould(found: Found) -> Iterator[Remark]:
    r, investment = found.result, found.investment
    low, high = investment.water_per_100_low, investment.water_per_100_high
    if not low <= r.water_per_100 <= high:
        wet = r.water_per_100 > high
        yield Remark(
            STEP,
            Level.HEED,
            "water",
            f"{r.water_per_100:.0f} g of water for 100 g of powder makes the mould "
            f"{'weak' if wet else 'hard to pour'}.",
            figure=r.water_per_100,
            limit=high if wet else low,
            unit="g per 100 g",
            limit_source=investment.source,
            place="mould",
            change=f"mix {low:.0f} to {high:.0f} (habits.water_per_100)",
        )
    charts = [by_rule(r.flask_diameter_mm, r.flask_height_mm, rule)[0] for rule in found.powder_rules]
    aside = f" Charts by the flask alone would weigh {min(charts):.0f} to {max(charts):.0f} g." if charts else ""
    yield Remark(
        STEP,
        Level.FINE,
        "powder",
        f"Weigh {r.powder_g:.0f} g of powder and {r.water_g:.0f} g of water for {r.slurry_cm3:.0f} cm³; "
        f"{investment.working_min:.0f} minutes from powder to flask.{aside}",
        figure=r.powder_g,
        unit="g",
        place="mould",
    )


def _heat(found: Found) -> Iterator[Remark]:
    r, investment = found.result, found.investment
    never = r.melt_C > investment.never_metal_C
    hot = r.melt_C > investment.max_metal_C
    level = Level.HALT if never else Level.HEED if hot else Level.FINE
    says = "it breaks the binder down" if never else "hotter than the binder bears for long"
    says = says if hot else "it bears that"
    yield Remark(
        STEP,
        level,
        "mould-heat",
        f"Metal at {r.melt_C:.0f} °C in {investment.binder}-bonded investment: {says}.",
        figure=r.melt_C,
        limit=investment.never_metal_C if never else investment.max_metal_C,
        unit="°C",
        limit_source=investment.source,
        place="mould",
        change="take an investment for hot melts (phosphate or silica)" if hot else "",
    )


def _metal(found: Found) -> Iterator[Remark]:
    r = found.result
    button = found.rule("button")
    share = found.habits.button_share
    small = share < (button.least_share or 0.0)
    yield Remark(
        STEP,
        Level.HEED if small else Level.FINE,
        "charge",
        f"Weigh out {r.charge_g:.2f} g: {r.pieces_g:.2f} in the piece{'s' if len(r.pieces) > 1 else ''}, "
        f"{r.sprues_g:.2f} in sprues, {f'{r.feeders_g:.2f} in blind feeders, ' if r.feeders else ''}"
        f"{r.button_g:.2f} in the button, {r.loss_g:.2f} for loss.",
        figure=share,
        limit=button.least_share,
        limit_source=button.source,
        place="button",
        change=f"a button of at least {button.least_share:.0%} of pieces and sprues (habits.button_share)"
        if small
        else "",
    )
    melting = [row for row in found.losses if row.key.startswith("melt-")]
    most = max(melting, key=lambda row: row.lost_high_percent, default=None)
    if most is not None and found.habits.melt_loss_percent > most.lost_high_percent:
        yield Remark(
            STEP,
            Level.HEED,
            "melt-loss",
            f"A loss of {found.habits.melt_loss_percent:.1f} % in melting is more than any source gives.",
            figure=found.habits.melt_loss_percent,
            limit=most.lost_high_percent,
            unit="%",
            limit_source=most.source,
            place="crucible",
            change="weigh charge, castings and button of a few melts, and enter habits.melt_loss",
        )


def _crucible(found: Found) -> Iterator[Remark]:
    r = found.result
    if r.crucible is not None:
        yield Remark(
            STEP,
            Level.FINE,
            "crucible",
            f"Crucible {r.crucible} holds the {r.melt_cm3:.1f} cm³ of melt.",
            figure=r.melt_cm3,
            unit="cm3",
            place="crucible",
        )
        return
    if not found.crucibles:
        yield Remark(
            STEP,
            Level.HALT,
            "crucible",
            f"The workshop names no crucible; the melt is {r.melt_cm3:.1f} cm³.",
            figure=r.melt_cm3,
            unit="cm3",
            place="crucible",
            change=f"a crucible that holds {r.melt_cm3:.1f} cm³ at {r.melt_C:.0f} °C",
        )
        return
    may = [c for c in found.crucibles if forbidden(c, found.alloy, found.crucible_rules) is None]
    if not may:
        barred = forbidden(found.crucibles[0], found.alloy, found.crucible_rules)
        assert barred is not None
        yield Remark(
            STEP,
            Level.HALT,
            "crucible-material",
            f"No crucible of the workshop suits the metal: {barred.why} in {barred.material}.",
            figure=found.alloy.composition.get(barred.element),
            limit=barred.from_percent,
            unit="% " + barred.element,
            limit_source=barred.source,
            place="crucible",
            change="take a crucible of silica or zirconia",
        )
        return
    cool = [c for c in may if c.max_C >= r.melt_C]
    if not cool:
        best = max(may, key=lambda c: c.max_C)
        yield Remark(
            STEP,
            Level.HALT,
            "crucible-heat",
            f"No crucible of the workshop bears {r.melt_C:.0f} °C.",
            figure=r.melt_C,
            limit=best.max_C,
            unit="°C",
            limit_source=f"crucible {best.name} of this workshop",
            place="crucible",
            change=f"a crucible for {r.melt_C:.0f} °C",
        )
        return
    yield _too_full(found, cool)


def _too_full(found: Found, crucibles: Sequence[Crucible]) -> Remark:
    r, best = found.result, max(crucibles, key=lambda c: c.capacity_cm3)
    enough = [c for c in found.crucibles if c.capacity_cm3 >= r.melt_cm3]
    other = f"; '{enough[0].name}' is large enough but does not suit metal or heat" if enough else ""
    return Remark(
        STEP,
        Level.HALT,
        "crucible",
        f"The charge of {r.charge_g:.1f} g is {r.melt_cm3:.1f} cm³ when molten and does not fit the crucible "
        f"{best.name}.",
        figure=r.melt_cm3,
        limit=best.capacity_cm3,
        unit="cm3",
        limit_source=f"crucible {best.name} of this workshop",
        place="crucible",
        change=f"a crucible of at least {r.melt_cm3:.1f} cm³{other}, a smaller button, "
        f"or {'fewer pieces' if len(r.pieces) > 1 else 'have it cast elsewhere'}",
    )


def _cautions() -> Iterator[Remark]:
    yield Remark(
        STEP,
        Level.FINE,
        "caution-silica",
        "Investment powder holds crystalline silica, which harms the lungs for life: weigh and mix it under "
        "extraction, wear a fitted P100 or FFP3 mask, break out wet, never sweep dry. Local rules and the maker's "
        "sheet decide.",
        place="mixing and breaking out",
    )
    yield Remark(
        STEP,
        Level.FINE,
        "caution-metal",
        "Molten metal: face shield, apron and leather shoes; dry crucible, dry flask, no water near the pour; know "
        "where a spill would run. Local rules and trained hands decide.",
        place="melting and pouring",
    )
