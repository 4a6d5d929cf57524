"""The quote: lines that add up, margin and tax, the client's own, other alloys, how far it moves, bad input."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.facts import load
from ringwright.steps.price import price_per_g, quote, to_minor
from ringwright.terms.alloy import Alloy
from ringwright.terms.commission import Owner
from ringwright.terms.facts import Facts
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.price import Extra, PricedStone, Quote
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level
from ringwright.terms.workshop import FinePrice, Habits, Shop
from tests.steps.test_bench import alloy

D = Decimal
DAY = dt.date(2026, 3, 2)
SHOP = Shop(
    name="Example workshop",
    currency="CHF",
    hour_rate=D("80"),
    setting_rate=D("95"),
    overhead_percent=30,
    margin_percent=15,
    metal_margin_percent=10,
    stone_margin_percent=25,
    tax_percent=8.1,
    deposit_percent=50,
    assay_fee=D("40"),
)
HABITS = Habits(melt_loss_percent=0.5, bench_loss_percent=1.5)
PRICES = tuple(
    FinePrice(metal=m, per_g=D(p), spread_percent=s)
    for m, p, s in (("Au", "60.00", 5.0), ("Ag", "0.80", 8.0), ("Cu", "0.01", 5.0), ("Pd", "30.00", 10.0))
)
GOLD = alloy()
WHITE = alloy(
    key="18k-pd15",
    title="18k palladium white",
    density_g_cm3=Estimate(16.4, 0.1),
    composition={"Au": 75.0, "Pd": 15.0, "Ag": 10.0},
)
NINE = alloy(
    key="9k",
    title="9k yellow",
    density_g_cm3=Estimate(11.2, 0.1),
    fineness_permille=375.0,
    composition={"Au": 37.5, "Ag": 10.0, "Cu": 52.5},
)
PLATINUM = alloy(
    key="pt950",
    title="platinum 950",
    metal="platinum",
    composition={"Pt": 95.0, "Ru": 5.0},
    density_g_cm3=Estimate(20.7, 0.2),
)
STONE = PricedStone(name="centre", material="sapphire", owner=Owner.SHOP, cost=D("400"))


@cache
def tables() -> Facts:
    return load()


def ask(**other: Any) -> Outcome[Quote]:
    given_: dict[str, Any] = {
        "alloy": GOLD,
        "mass_g": Estimate(5.0, 0.1),
        "cast_g": 6.0,
        "charge_g": 10.0,
        "bench_h": Estimate(8.0, 1.5),
        "setting_h": Estimate(1.0, 0.3),
        "stones": (STONE,),
        "shop": SHOP,
        "habits": HABITS,
        "fine_prices": PRICES,
        "currency": "CHF",
        "currencies": tables().currencies,
        "practice": tables().price_practice,
        "offered_on": DAY,
        "assayed": True,
    }
    return quote(**{**given_, **other})


def amounts(outcome: Outcome[Quote]) -> dict[str, Decimal]:
    return {line.key: line.amount for line in outcome.result.lines}


def test_every_line_by_hand() -> None:
    """A gram of the alloy: 0.75 x 60 + 0.125 x 0.80 + 0.125 x 0.01 = 45.1013 (four decimals)."""
    assert price_per_g(GOLD, PRICES) == D("45.1013")
    got = amounts(ask())
    assert got == {
        "metal": D("225.51"),
        "melt-loss": D("2.26"),
        "bench-loss": D("4.06"),
        "metal-mark-up": D("23.18"),
        "stone": D("400.00"),
        "stone-mark-up": D("100.00"),
        "bench": D("640.00"),
        "setting": D("95.00"),
        "overhead": D("220.50"),
        "assay": D("40.00"),
        "margin": D("308.91"),
        "tax": D("166.81"),
    }


def test_sums_margin_tax_deposit_and_days() -> None:
    result = ask().result
    assert result.cost == D("1750.51")
    assert result.net == D("2059.42") and result.total == D("2226.23")
    assert result.margin / result.net == pytest.approx(D("0.15"), abs=D("0.0001"))
    assert result.margin / result.cost * 100 == pytest.approx(D(str(result.markup_percent)), abs=D("0.01"))
    assert result.deposit == D("1113.12") and result.balance == D("1113.11")
    assert result.offer_ends == dt.date(2026, 3, 16)
    assert result.materials == D("631.83")


MONEY = st.decimals(min_value=0, max_value=5000, places=2)


@settings(max_examples=120, deadline=None)
@given(
    mass=st.floats(0.05, 80),
    bench=st.floats(0, 60),
    setting=st.floats(0, 20),
    stone=MONEY,
    rate=MONEY,
    margin=st.floats(0, 80),
    tax=st.floats(0, 30),
    deposit=st.floats(0, 100),
    own=st.floats(0, 60),
    currency=st.sampled_from(["CHF", "JPY", "KWD"]),
)
def test_lines_add_up_to_the_total_exactly(
    mass: float,
    bench: float,
    setting: float,
    stone: Decimal,
    rate: Decimal,
    margin: float,
    tax: float,
    deposit: float,
    own: float,
    currency: str,
) -> None:
    shop = replace(
        SHOP, currency=currency, hour_rate=rate, margin_percent=margin, tax_percent=tax, deposit_percent=deposit
    )
    result = ask(
        shop=shop,
        currency=currency,
        mass_g=Estimate(mass, 0.1),
        cast_g=mass * 1.2,
        charge_g=mass * 2,
        bench_h=Estimate(bench, 1),
        setting_h=Estimate(setting, 0.1),
        stones=(replace(STONE, cost=stone),),
        client_fine_g={"Au": own},
    ).result
    digits = {"CHF": 2, "JPY": 0, "KWD": 3}[currency]
    lines = {line.key: line.amount for line in result.lines}
    assert sum(lines.values()) == result.total
    assert result.cost + result.margin == result.net and result.net + result.tax == result.total
    assert result.deposit + result.balance == result.total and 0 <= result.deposit <= result.total
    assert sum(v for k, v in lines.items() if k not in {"margin", "tax"}) == result.cost >= 0
    shown = [*lines.values(), result.total, result.deposit, *(offer.total for offer in result.offers)]
    assert all(-amount.as_tuple().exponent == digits for amount in shown)
    unit = D(1).scaleb(-digits)
    assert abs(result.tax - result.net * D(str(tax)) / 100) <= unit / 2
    assert abs(result.margin - result.net * D(str(margin)) / 100) <= unit


@given(st.decimals(min_value=-10000, max_value=10000, places=6))
def test_rounding_is_to_the_nearest_and_halves_go_up(amount: Decimal) -> None:
    rounded = to_minor(amount, 2)
    assert abs(rounded - amount) <= D("0.005")
    assert to_minor(D("0.125"), 2) == D("0.13") and to_minor(D("-0.125"), 2) == D("-0.13")
    assert to_minor(D("2.5"), 0) == 3 and to_minor(D("0.135"), 2) == D("0.14")


def test_quantity_times_rate_is_the_amount_of_each_line() -> None:
    for line in ask().result.lines:
        if line.rate is not None and line.quantity is not None and line.key != "margin":
            factor = D(100) if line.unit == "%" else D(1)
            assert line.amount == to_minor(line.quantity * line.rate / factor, 2), line


def test_the_clients_stone_stands_there_at_zero() -> None:
    outcome = ask(stones=(replace(STONE, owner=Owner.CLIENT, cost=D("999")),))
    line = next(line for line in outcome.result.lines if line.key == "own-stone")
    assert line.amount == 0 and "client's own" in line.note
    assert "stone-mark-up" not in amounts(outcome)
    assert not [r for r in outcome.remarks if r.kind == "stone-unpriced"]


def test_a_shop_stone_without_a_cost_halts_the_quote() -> None:
    outcome = ask(stones=(replace(STONE, cost=None),))
    assert outcome.verdict is Level.HALT
    (remark,) = [r for r in outcome.remarks if r.kind == "stone-unpriced"]
    assert "'centre'" in remark.says
    assert not [r for r in ask().remarks if r.kind == "stone-unpriced"]


def test_the_clients_own_metal_is_taken_off_and_what_is_left_goes_back() -> None:
    some = ask(client_fine_g={"Au": 2.0}).result
    line = next(line for line in some.lines if line.key == "own-metal")
    assert line.amount == D("-120.00") and "2.00 g Au" in line.note
    assert some.returned_g == {}
    much = ask(client_fine_g={"Au": 10.0}).result
    need = D("0.75") * (D("5.00") + D("0.05") + D("0.09"))
    assert much.returned_g["Au"] == D("10.00") - need
    assert [move.fine_g for move in much.moves if move.metal == "Au"] == [0]
    other = ask(client_fine_g={"Pt": 3.0}).result
    assert next(line for line in other.lines if line.key == "own-metal").amount == 0
    assert other.total == ask().result.total and other.returned_g == {"Pt": D("3.00")}


def test_alloys_side_by_side_have_the_same_volume() -> None:
    outcome = ask(compare=(WHITE, NINE, GOLD))
    chosen, white, nine = outcome.result.offers
    assert (chosen.chosen, white.chosen, nine.chosen) == (True, False, False)
    assert white.mass_g == D("5.31") and nine.mass_g == D("3.62")
    assert chosen.difference == 0 and chosen.total == outcome.result.total
    assert nine.total < chosen.total < white.total
    assert white.difference == white.total - chosen.total
    alone = ask(
        alloy=NINE, mass_g=Estimate(5.0 * 11.2 / 15.45, 0.1), cast_g=6.0 * 11.2 / 15.45, charge_g=10.0 * 11.2 / 15.45
    )
    assert nine.total == alone.result.total


def test_an_alloy_without_a_price_is_left_out_and_said() -> None:
    outcome = ask(compare=(PLATINUM, NINE))
    assert [offer.alloy for offer in outcome.result.offers] == ["18k-3n", "9k"]
    (remark,) = [r for r in outcome.remarks if r.kind == "not-compared"]
    assert remark.level is Level.FINE and "Pt, Ru" in remark.says


def test_over_budget_says_by_how_much_and_which_alloy_would_fit() -> None:
    over = ask(budget=D("2200"), compare=(WHITE, NINE))
    (remark,) = [r for r in over.remarks if r.kind == "budget"]
    assert remark.level is Level.HEED
    assert "26.23 CHF above the budget of 2200 CHF" in remark.says
    assert remark.change.startswith("9k yellow keeps to it at")
    assert [offer.in_budget for offer in over.result.offers] == [False, False, True]
    assert not [r for r in ask(alloy=NINE, budget=D("2200")).remarks if r.kind == "budget"]
    tight = ask(budget=D("100"), compare=(WHITE, NINE))
    assert "no alloy compared keeps to it (the nearest, 9k yellow" in next(
        r.change for r in tight.remarks if r.kind == "budget"
    )
    assert "compare other alloys" in next(r.change for r in ask(budget=D("100")).remarks if r.kind == "budget")
    assert not [r for r in ask(budget=D("2226.23")).remarks if r.kind == "budget"]


@pytest.mark.parametrize("metal", ["Au", "Ag"])
def test_moves_are_the_difference_of_two_quotes(metal: str) -> None:
    """The derivative against raising the price by a tenth, and asking again."""
    base = ask().result
    raised = tuple(replace(p, per_g=p.per_g * D("1.1")) if p.metal == metal else p for p in PRICES)
    move = next(m for m in base.moves if m.metal == metal)
    assert ask(fine_prices=raised).result.total - base.total == pytest.approx(move.per_percent * 10, abs=D("0.1"))
    assert move.with_spread == pytest.approx(move.per_percent * D(str(move.spread_percent)), abs=D("0.05"))


def test_spread_of_the_total_grows_with_each_of_its_parts() -> None:
    base = ask().result.total_plus_minus
    assert ask(mass_g=Estimate(5.0, 2.0)).result.total_plus_minus > base
    assert ask(bench_h=Estimate(8.0, 4.0)).result.total_plus_minus > base
    assert ask(setting_h=Estimate(1.0, 2.0)).result.total_plus_minus > base
    wild = tuple(replace(p, spread_percent=40.0) for p in PRICES)
    assert ask(fine_prices=wild).result.total_plus_minus > base
    still = tuple(replace(p, spread_percent=0.0) for p in PRICES)
    sure = {"bench_h": Estimate(8, 0), "setting_h": Estimate(1, 0), "mass_g": Estimate(5, 0)}
    assert ask(fine_prices=still, **sure).result.total_plus_minus == 0


def test_metal_that_may_move_more_than_the_margin_is_to_heed() -> None:
    thin = ask(shop=replace(SHOP, margin_percent=0.5))
    assert [r.kind for r in thin.remarks if r.kind == "metal-moves"]
    assert not [r for r in ask().remarks if r.kind == "metal-moves"]


def test_deposit_that_does_not_cover_the_materials_is_to_heed_and_the_remedy_works() -> None:
    low = ask(deposit_percent=20)
    (remark,) = [r for r in low.remarks if r.kind == "deposit"]
    asked = int(remark.change.split()[1])
    assert not [r for r in ask(deposit_percent=asked).remarks if r.kind == "deposit"]
    assert [r for r in ask(deposit_percent=asked - 1).remarks if r.kind == "deposit"]


def test_an_offer_that_holds_too_long_is_to_heed() -> None:
    assert [r.kind for r in ask(shop=replace(SHOP, offer_days=60)).remarks] == ["offer-days"]
    assert not ask().remarks


def test_extras_and_assay_are_lines() -> None:
    outcome = ask(extras=(Extra(title="Courier", amount=D("12.345")),), assayed=False)
    assert amounts(outcome)["extra"] == D("12.35")
    assert "assay" not in amounts(outcome)


def test_no_setter_rate_means_the_bench_rate() -> None:
    assert amounts(ask(shop=replace(SHOP, setting_rate=None)))["setting"] == D("80.00")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"currency": "EUR"}, "currency: the commission is in EUR, the workshop's prices are in CHF"),
        ({"currency": "CHX", "shop": replace(SHOP, currency="CHX")}, "no currency is called 'CHX'; did you mean"),
        ({"mass_g": Estimate(0, 0)}, "mass: a mass of 0 g; more than zero"),
        ({"cast_g": -1.0}, "cast mass: a mass of -1 g"),
        ({"charge_g": float("nan")}, "charge: a mass of nan g"),
        ({"bench_h": Estimate(-1, 0)}, "bench hours: -1 ± 0 h"),
        ({"stones": (replace(STONE, cost=D("-5")),)}, "cost of stone centre: a price of -5; zero or more"),
        ({"extras": (Extra(title="Post", amount=D("NaN")),)}, "cost of Post: a price of NaN"),
        ({"shop": replace(SHOP, hour_rate=D("-80"))}, "hour_rate: a price of -80"),
        ({"shop": replace(SHOP, margin_percent=100)}, "margin_percent: 100 %; zero or more, below 100"),
        ({"shop": replace(SHOP, tax_percent=-1)}, "tax_percent: -1 %"),
        ({"deposit_percent": 120.0}, "deposit_percent: 120 %; from 0 to 100"),
        ({"shop": replace(SHOP, offer_days=0)}, "offer_days: 0 days"),
        ({"client_fine_g": {"Au": -2.0}}, "client's own Au: -2 g"),
        ({"budget": D("-1")}, "budget: a price of -1"),
        ({"fine_prices": (replace(PRICES[0], per_g=D("-60")), *PRICES[1:])}, "fine_price Au: a price of -60"),
        ({"fine_prices": (*PRICES, PRICES[0])}, "fine_price Au: Au has two prices"),
        ({"fine_prices": PRICES[:1] + PRICES[2:]}, "fine_price Ag: no price for Ag, which 18k yellow holds"),
        ({"alloy": replace(GOLD, composition={})}, "metal: 18k yellow has no composition"),
    ],
)
def test_bad_input_is_told_in_one_sentence(change: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInput) as caught:
        ask(**change)
    assert len(caught.value.mistakes) == 1
    assert str(caught.value).startswith(says)


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        ask(currency="EUR", mass_g=Estimate(0, 0), shop=replace(SHOP, tax_percent=-1))
    assert len(caught.value.mistakes) == 3
    with pytest.raises(BadInput) as caught:
        ask(alloy=PLATINUM)
    assert len(caught.value.mistakes) == 2


def test_an_alloy_whose_parts_do_not_add_up_to_a_hundred_is_paid_by_its_shares() -> None:
    odd: Alloy = replace(GOLD, composition={"Au": 75.75, "Ag": 12.625, "Cu": 12.625})
    assert price_per_g(odd, PRICES) == price_per_g(GOLD, PRICES)
