"""The offer for the client: every part of the price shown, other alloys side by side, and the terms."""

from __future__ import annotations

from typing import Any

from ringwright.papers.blocks import (
    Block,
    Card,
    Cell,
    Column,
    bullets,
    heading,
    large,
    pairs,
    right,
    row,
    small,
    strong,
    table,
    text,
    tiles,
    together,
    write,
)
from ringwright.papers.care import facts_of
from ringwright.papers.dossier import verdict_of
from ringwright.papers.generic import found
from ringwright.papers.heed import asked, reads
from ringwright.papers.say import cash, dwt, measure, money, sentence
from ringwright.papers.tongue import own
from ringwright.papers.words import alloy_words, metal_words, stone_lines, stone_words
from ringwright.terms.facts import Facts
from ringwright.terms.finger import Fit
from ringwright.terms.making import MetalFound
from ringwright.terms.price import AlloyOffer, MetalMove, Quote, QuoteLine
from ringwright.terms.remark import Level
from ringwright.words.numbers import NONE, day, number

_SIDE_BY_SIDE = 4
_STONES_BESIDE = 2
_TOLD = 1000
"""A metal is told of in the terms where its price may move the total by a thousandth or more."""

_METALS = {"Au": "gold", "Ag": "silver", "Pt": "platinum", "Pd": "palladium", "Ru": "ruthenium", "Cu": "copper"}


def offer_card(making: Any, picture: tuple[Block, ...], title: str) -> Card | None:
    """The offer: what is offered, its price part by part, and by when it is to be taken."""
    quote = found(making, "price", Quote)
    if quote is None:
        return None
    stones = stone_lines(making)
    side: list[Block] = [pairs(_offered(making, quote), columns=1)]
    few = len(stones) <= _STONES_BESIDE
    if stones and few:
        side.append(
            pairs([(f"Stone: {own(name)}", [told[0], *map(small, told[1:])]) for name, told in stones], columns=1)
        )
    blocks: list[Block] = [row(list(picture), side, widths=(0.8, 1.2)) if picture else row(side)]
    if stones and not few:
        columns = [Column("Stone"), Column("What it is", "1fr")]
        blocks.append(table(columns, [[strong(own(name)), "; ".join(told)] for name, told in stones], small=True))
    market, facts = making.commission.commission.market, facts_of(making)
    blocks += [heading("The price and its parts", f"in {quote.currency}"), _lines(quote, _named(making, quote))]
    blocks.append(
        tiles(
            ("Total with tax", cash(quote.total), quote.currency, f"reckoned to ± {cash(quote.total_plus_minus)}"),
            ("Deposit with the order", cash(quote.deposit), quote.currency, ""),
            ("Balance on handing over", cash(quote.balance), quote.currency, ""),
            ("The offer holds until", day(quote.offer_ends), "", f"made on {day(quote.offered_on)}"),
            wide=(1, 1, 1, 1.35),
            height_mm=14,
        )
    )
    if len(quote.offers) > 1:
        blocks.append(together(heading("The same ring in other metals"), _side_by_side(quote, market, facts)))
    blocks.append(
        together(heading("Terms of this offer"), bullets(_terms(making, quote), columns=2, small=True), _signatures())
    )
    return Card("Offer", title, tuple(blocks))


def _offered(making: Any, quote: Quote) -> list[tuple[str, Cell]]:
    order, facts = making.commission, facts_of(making)
    metal, fit = found(making, "metal", MetalFound), found(making, "finger", Fit)
    told: list[tuple[str, Cell]] = [("Commission", own(order.commission.number))]
    if metal is not None:
        said = metal_words(metal.alloy, order.commission.market, facts)
        told.append(("Metal", [said.text, small(sentence(metal.alloy.colour))]))
    told.append(("Metal in the finished ring", [measure(quote.mass_g, "g", 2), small(dwt(quote.mass_g.value))]))
    if fit is not None:
        told.append(("Size asked", asked(fit)))
        told.append(("Reads on the stick", [reads(fit), small(f"{number(fit.inner_diameter_mm.value, 2)} mm inside")]))
    due = order.commission.due
    told.append(("Promised for", day(due) if due is not None else "to be agreed"))
    return told


def _named(making: Any, quote: Quote) -> dict[str, str]:
    """Titles of lines as the law of the market wants them, by the title that the price gave: stones, and the metal."""
    order, facts = making.commission, facts_of(making)
    market = order.commission.market
    named = {
        f"Stone {stone.name}, {stone.material}": f"Stone {own(stone.name)}: {stone_words(stone, market, facts).text}"
        for stone in order.stone
    }
    chosen = next((one for one in quote.offers if one.chosen), None)
    if chosen is not None:
        said = sentence(alloy_words(chosen.alloy, chosen.title, market, facts))
        named |= {line.title: line.title.replace(chosen.title, said) for line in quote.lines if line.key == "metal"}
    return named


def _lines(quote: Quote, named: dict[str, str]) -> Block:
    columns = [Column("Part", "1fr"), right("How much"), right("at"), right("Amount")]
    priced = [line for line in quote.lines if line.key != "tax"]
    tax = [line for line in quote.lines if line.key == "tax"]
    rows = [_line(line, named) for line in priced]
    rows.append(["Price before tax", "", "", cash(quote.net)])
    rows += [_line(line, named) for line in tax]
    rows.append([strong("Total"), "", "", large(cash(quote.total))])
    return table(columns, rows, strong_rows=[len(priced), len(rows) - 1], loose_mm=0.95)


def _line(line: QuoteLine, named: dict[str, str]) -> list[Cell]:
    name = named.get(line.title, line.title)
    title = [name, small(sentence(line.note))] if line.note else name
    much = NONE if line.quantity is None else measure(line.quantity, line.unit, 1 if line.unit == "%" else 2)
    rate = "" if line.rate is None else f"of {cash(line.rate)}" if line.unit == "%" else cash(line.rate)
    return [title, "" if much == NONE else much, rate, cash(line.amount)]


def _side_by_side(quote: Quote, market: str, facts: Facts | None) -> Block:
    """Alloys as columns where they are few, as rows where they are many."""
    rows: list[tuple[str, list[Cell]]] = [
        ("Metal in the ring, g", [cash(one.mass_g) for one in quote.offers]),
        ("Price of a gram", [cash(one.per_g) for one in quote.offers]),
        ("Metal, with losses and mark-up", [cash(one.metal) for one in quote.offers]),
        ("Total with tax", [large(cash(one.total)) for one in quote.offers]),
        ("More or less", [_signed(one) for one in quote.offers]),
    ]
    if quote.budget is not None:
        rows.append((f"Within {money(quote.budget, quote.currency)}", [_budget(one) for one in quote.offers]))
    named = [alloy_words(one.alloy, one.title, market, facts) for one in quote.offers]
    heads = [
        sentence(name) + (" (offered)" if one.chosen else "") for name, one in zip(named, quote.offers, strict=True)
    ]
    if len(quote.offers) <= _SIDE_BY_SIDE:
        columns = [Column("", "auto"), *(Column(head, "1fr", "right") for head in heads)]
        return table(columns, [[name, *values] for name, values in rows], loose_mm=0.95)
    columns = [Column("Metal", "1fr"), *(right(name) for name, _ in rows)]
    return table(columns, [[head, *(values[n] for _, values in rows)] for n, head in enumerate(heads)], small=True)


def _signed(one: AlloyOffer) -> str:
    if one.chosen:
        return NONE
    return f"+{cash(one.difference)}" if one.difference > 0 else cash(one.difference)


def _budget(one: AlloyOffer) -> str:
    return {True: "yes", False: "no", None: NONE}[one.in_budget]


def _terms(making: Any, quote: Quote) -> list[Cell]:
    """The terms, each from a figure of the offer."""
    order = making.commission
    terms: list[Cell] = [
        f"The offer holds until {day(quote.offer_ends)}. Afterwards the metal is priced anew.",
        f"The order is placed with the deposit of {money(quote.deposit, quote.currency)}; the balance of "
        f"{money(quote.balance, quote.currency)} is due on handing over.",
        f"Mass, hours and metal prices are reckoned beforehand. The total is expected within "
        f"± {money(quote.total_plus_minus, quote.currency)}; a change beyond that is agreed before the work goes on.",
    ]
    terms += [f"{_move(move, quote.currency)}." for move in quote.moves if move.with_spread * _TOLD >= quote.total]
    if quote.returned_g:
        back = ", ".join(
            f"{measure(mass, 'g', 3)} fine {_METALS.get(key, key)}" for key, mass in quote.returned_g.items()
        )
        terms.append(f"Of your own metal {back} is left over and comes back to you.")
    if order.metal.own_g:
        lots = ", ".join(f"{measure(mass, 'g', 2)} of {own(name)}" for name, mass in order.metal.own_g.items())
        terms.append(f"Your own metal goes into this ring and into no other: {lots}.")
    if order.starter is not None and order.model is None:
        terms.append("Nothing is drawn yet: the figures stand on a simple shape and are reckoned anew from a drawing.")
    if verdict_of(making) is Level.HALT:
        terms.append("Something in this ring must change before it can be made; it will be talked over with you.")
    if quote.rounding:
        terms.append(f"Rounding: {quote.rounding}.")
    return terms


def _move(move: MetalMove, currency: str) -> str:
    metal = _METALS.get(move.metal, move.metal)
    one = f"If the price of {metal} moves by 1 %, the total moves by {money(move.per_percent, currency)}"
    if not move.spread_percent:
        return one
    return f"{one} (by {money(move.with_spread, currency)} for the {number(move.spread_percent, 0)} % reckoned with)"


def _signatures() -> Block:
    return row(
        [text("Offered by", small=True), pairs([("Date", write(28)), ("Signature", write(46))], columns=1)],
        [text("Ordered by", small=True), pairs([("Date", write(28)), ("Signature", write(46))], columns=1)],
    )
