"""What a charge is weighed out from: never below the mark, never over the stock, always whole steps of the scale."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.steps import metal
from ringwright.steps.metal.programme import Source, Task, guaranteed, solve
from ringwright.terms.alloy import AlloyFact
from ringwright.terms.metal import Recipe
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level
from ringwright.terms.workshop import FinePrice, Lot, StockKind
from tests.steps.metal_facts import FACTS, KEYS, recipe, resolve, row_of

YELLOW = row_of("18k-3n")
PRICES = (
    FinePrice(metal="Au", per_g=Decimal("95")),
    FinePrice(metal="Ag", per_g=Decimal("1.10")),
    FinePrice(metal="Cu", per_g=Decimal("0.02")),
)


def lot(name: str, kind: StockKind, mass_g: float, spread: float = 0.0, **composition: float) -> Lot:
    return Lot(name=name, kind=kind, mass_g=mass_g, composition=composition, spread_permille=spread)


GRAIN = lot("grain", StockKind.FINE, 30, Au=999.9)
SILVER = lot("silver", StockKind.FINE, 100, Ag=999)
COPPER = lot("copper", StockKind.FINE, 100, Cu=999)
MASTER = lot("master", StockKind.MASTER, 50, Cu=500, Ag=495, Zn=5)
SCRAP = lot("bench scrap", StockKind.SCRAP, 8.4, 4, Au=748, Ag=130, Cu=122)
RICH = lot("old ring", StockKind.SCRAP, 5, 2, Au=916, Ag=50, Cu=34)
POOR = lot("14 carat bits", StockKind.SCRAP, 5, 5, Au=583, Ag=40, Cu=315, Zn=60)
CADMIUM = lot("old solder", StockKind.SCRAP, 5, Au=750, Ag=100, Cu=100, Cd=50)
STOCK = (GRAIN, SILVER, COPPER, MASTER, SCRAP, RICH, POOR)


def parts(outcome: Outcome[Recipe]) -> dict[str, float]:
    return {part.material: part.mass_g for part in outcome.result.parts}


def kinds(outcome: Outcome[Recipe]) -> list[str]:
    return [remark.kind for remark in outcome.remarks]


def holds(outcome: Outcome[Recipe], alloy: AlloyFact, mass_g: float, lots: tuple[Lot, ...], step: str) -> None:
    """What every recipe must keep, counted in exact arithmetic from the parts alone."""
    result = outcome.result
    by_name: dict[str, tuple[dict[str, float], float, float]] = {
        one.name: (one.composition, one.spread_permille, one.mass_g) for one in lots
    } | {row.key: ({row.element: row.fineness_permille}, 0.0, 1e9) for row in FACTS.fine_metals}
    main = {"gold": "Au", "silver": "Ag", "platinum": "Pt", "palladium": "Pd"}[alloy.metal]
    total, fine = Fraction(0), Fraction(0)
    for part in result.parts:
        mass = Fraction(str(part.mass_g))
        assert mass > 0
        assert (mass / Fraction(step)).denominator == 1, f"{part} is no whole number of {step} g"
        composition, spread, there = by_name[part.material]
        assert mass <= Fraction(str(there)), f"{part} is more than the {there} g there"
        total += mass
        fine += mass * max(Fraction(0), Fraction(str(composition.get(main, 0.0))) - Fraction(str(spread)))
    assert fine / total >= Fraction(str(result.asked_permille)), "below the mark"
    assert result.fineness_permille <= float(fine / total) + 1e-9
    assert result.fineness_permille == pytest.approx(float(fine / total), abs=0.0011)
    assert Fraction(str(result.mass_g)) == total
    assert Fraction(str(mass_g)) <= total <= Fraction(str(mass_g)) + 4 * Fraction(step)


@pytest.mark.parametrize("key", KEYS)
def test_every_alloy_from_fine_metals(key: str) -> None:
    alloy = row_of(key)
    outcome = recipe(alloy, 20.0)
    holds(outcome, alloy, 20.0, (), "0.01")
    assert outcome.result.off_percent < 0.25
    assert outcome.result.new_metal_percent == 100
    assert outcome.verdict is Level.FINE
    assert kinds(outcome) == ["melting-order"]


def test_18_carat_from_fine_metals_to_the_hundredth() -> None:
    assert parts(recipe(YELLOW, 20.0)) == {"fine gold": 15.01, "fine silver": 2.5, "fine copper": 2.49}


def test_a_resolved_alloy_gives_the_same_recipe_as_its_row() -> None:
    assert recipe(resolve("18k-3n").result, 20.0).result == recipe(YELLOW, 20.0).result


def test_scrap_is_used_up_to_its_limit_and_no_further() -> None:
    outcome = recipe(YELLOW, 20.0, lots=[metal.scrap_lot(YELLOW, 30)])
    assert parts(outcome)["scrap 18k-3n"] == pytest.approx(10, abs=0.02)
    assert outcome.result.new_metal_percent >= 50
    assert "scrap-share" not in kinds(outcome)
    little = recipe(YELLOW, 20.0, lots=[metal.scrap_lot(YELLOW, 3)])
    assert parts(little)["scrap 18k-3n"] == pytest.approx(3, abs=0.02)


def test_sixty_per_cent_of_returned_metal_is_heeded() -> None:
    outcome = recipe(YELLOW, 20.0, lots=[metal.scrap_lot(YELLOW, 12)], new_metal_percent=40)
    remark = next(r for r in outcome.remarks if r.kind == "scrap-share")
    assert remark.level is Level.HEED
    assert remark.figure == pytest.approx(60, abs=0.1)
    assert remark.limit == 50


def test_the_spread_of_scrap_costs_fine_gold() -> None:
    sure = recipe(YELLOW, 20.0, lots=[metal.scrap_lot(YELLOW, 10)])
    unsure = recipe(YELLOW, 20.0, lots=[metal.scrap_lot(YELLOW, 10, spread_permille=6)])
    holds(unsure, YELLOW, 20.0, (metal.scrap_lot(YELLOW, 10, spread_permille=6),), "0.01")
    assert parts(unsure)["fine gold"] - parts(sure)["fine gold"] == pytest.approx(0.06, abs=0.011)


def test_stock_alone_is_enough_where_it_is() -> None:
    outcome = recipe(YELLOW, 20.0, lots=STOCK, fine_at_hand=False, prices=PRICES)
    holds(outcome, YELLOW, 20.0, STOCK, "0.01")
    assert not any(part.buy for part in outcome.result.parts)
    assert outcome.result.off_percent <= 0.5
    assert outcome.result.new_metal_percent == pytest.approx(50, abs=0.1)
    assert outcome.result.new_metal_cost == pytest.approx(Decimal(640), abs=Decimal(10))


def test_stock_that_does_not_reach_says_what_to_buy() -> None:
    outcome = recipe(YELLOW, 60.0, lots=(SCRAP, SILVER, COPPER), fine_at_hand=False, prices=PRICES)
    assert outcome.verdict is Level.HALT
    remark = next(r for r in outcome.remarks if r.kind == "stock-short")
    assert remark.change.startswith("buy ") and "of fine gold" in remark.change
    bought = [part for part in outcome.result.parts if part.buy]
    assert [part.material for part in bought] == ["fine gold"]
    assert remark.figure == bought[0].mass_g
    holds(outcome, YELLOW, 60.0, (SCRAP, SILVER, COPPER), "0.01")


def test_a_colour_that_the_stock_cannot_give_is_bought_and_not_fudged() -> None:
    outcome = recipe(YELLOW, 10.0, lots=(GRAIN, COPPER), fine_at_hand=False)
    assert {part.material for part in outcome.result.parts if part.buy} == {"fine silver"}
    assert outcome.result.off_percent <= 0.5


def test_a_clients_own_gold_goes_in_whole() -> None:
    client = lot("client", StockKind.SCRAP, 9, 3, Au=585, Ag=90, Cu=325)
    alloy = row_of("14k-yellow")
    outcome = recipe(alloy, 15.0, lots=[client], at_least_g={"client": 9}, new_metal_percent=0)
    assert parts(outcome)["client"] == 9
    holds(outcome, alloy, 15.0, (client,), "0.01")


def test_what_must_go_in_may_be_more_than_the_limit_of_scrap() -> None:
    client = lot("client", StockKind.SCRAP, 9, Au=750, Ag=125, Cu=125)
    outcome = recipe(YELLOW, 10.0, lots=[client, SCRAP], at_least_g={"client": 9})
    assert parts(outcome)["client"] == 9
    assert "bench scrap" not in parts(outcome)
    assert "scrap-share" in kinds(outcome)


def test_a_charge_too_small_for_what_must_go_in_says_how_large() -> None:
    client = lot("client", StockKind.SCRAP, 9, Au=585, Ag=90, Cu=325)
    with pytest.raises(BadInput) as caught:
        recipe(YELLOW, 10.0, lots=[client], at_least_g={"client": 9})
    assert str(caught.value) == (
        "client: it cannot be brought to 750 permille in 10.00 g; a charge of at least 14.95 g, or less of it"
    )
    holds(recipe(YELLOW, 14.95, lots=[client], at_least_g={"client": 9}), YELLOW, 14.95, (client,), "0.01")


def test_a_clients_metal_goes_into_no_other_ring() -> None:
    client = replace(RICH, belongs_to="2026-014")
    assert "old ring" not in parts(recipe(YELLOW, 20.0, lots=[client]))
    assert "old ring" not in parts(recipe(YELLOW, 20.0, lots=[client], commission="2026-015"))
    assert "old ring" in parts(recipe(YELLOW, 20.0, lots=[client], commission="2026-014"))
    with pytest.raises(BadInput, match="no lot is called 'old ring'"):
        recipe(YELLOW, 20.0, lots=[client], at_least_g={"old ring": 2})


def test_a_composition_that_the_forced_lots_spoil_is_heeded() -> None:
    odd = lot("odd", StockKind.SCRAP, 9, Au=750, Ag=0, Cu=250)
    outcome = recipe(YELLOW, 10.0, lots=[odd], at_least_g={"odd": 9}, new_metal_percent=0)
    remark = next(r for r in outcome.remarks if r.kind == "composition-off")
    assert remark.level is Level.HEED and remark.figure is not None and remark.figure > 5


def test_scrap_of_which_only_the_fineness_is_known() -> None:
    known = lot("old chain", StockKind.SCRAP, 9, 3, Au=750)
    outcome = recipe(YELLOW, 20.0, lots=[known])
    holds(outcome, YELLOW, 20.0, (known,), "0.01")
    assert parts(outcome)["old chain"] == pytest.approx(9, abs=0.02)
    remark = next(r for r in outcome.remarks if r.kind == "lot-half-known")
    assert remark.level is Level.HEED and remark.figure == 25
    assert "lot-half-known" not in kinds(recipe(YELLOW, 20.0, lots=[SCRAP]))


def test_cadmium_is_left_out_and_said() -> None:
    outcome = recipe(YELLOW, 20.0, lots=(CADMIUM,))
    assert "old solder" not in parts(outcome)
    remark = next(r for r in outcome.remarks if r.kind == "lot-refused")
    assert remark.figure == 5 and remark.limit == 0.01


def test_nickel_that_only_the_scrap_brings_is_heeded_in_the_eu() -> None:
    whitened = lot("mixed bits", StockKind.SCRAP, 9, Au=750, Ag=120, Cu=120, Ni=10)
    assert "nickel-release" in kinds(recipe(YELLOW, 20.0, lots=[whitened], market="de"))
    assert "nickel-release" not in kinds(recipe(YELLOW, 20.0, lots=[whitened], market="us"))


def test_five_kilograms_to_the_hundredth() -> None:
    outcome = recipe(YELLOW, 5000.0, lots=[replace(SCRAP, mass_g=1234.56), replace(MASTER, mass_g=700.0)])
    holds(outcome, YELLOW, 5000.0, (replace(SCRAP, mass_g=1234.56), replace(MASTER, mass_g=700.0)), "0.01")
    assert parts(outcome)["bench scrap"] == pytest.approx(1234.56, abs=0.05)


def test_a_charge_of_less_than_a_step_is_one_step_or_more() -> None:
    outcome = recipe(row_of("ag925"), 0.004)
    holds(outcome, row_of("ag925"), 0.004, (), "0.01")


def test_a_mark_of_its_own() -> None:
    outcome = recipe(row_of("22k-yellow"), 10.0, fineness_permille=916)
    assert outcome.result.asked_permille == 916
    assert outcome.result.fineness_permille >= 916


def test_zinc_is_melted_last() -> None:
    says = next(r.says for r in recipe(row_of("9k-yellow"), 20.0).remarks if r.kind == "melting-order")
    order = says.split(": ")[1].split(".")[0]
    assert order == "fine copper, fine gold, fine silver, fine zinc"
    assert "local codes" in says


def test_silver_is_not_swapped_for_cheaper_copper() -> None:
    plain, priced = recipe(YELLOW, 50.0), recipe(YELLOW, 50.0, prices=PRICES)
    assert parts(plain) == pytest.approx(parts(priced), abs=0.021)


def test_no_crumbs_of_a_lot() -> None:
    for mass in (4.37, 11.11, 20.0, 33.33):
        outcome = recipe(YELLOW, mass, lots=STOCK, fine_at_hand=False, prices=PRICES)
        assert all(part.mass_g >= 0.1 for part in outcome.result.parts if part.kind != "fine metal")


def test_the_same_input_gives_the_same_recipe() -> None:
    first = recipe(YELLOW, 33.33, lots=STOCK, prices=PRICES)
    assert all(recipe(YELLOW, 33.33, lots=STOCK, prices=PRICES) == first for _ in range(2))


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"mass_g": 0.0}, "mass: 0 g is no charge; a mass above zero"),
        ({"mass_g": float("nan")}, "mass: nan g is no charge"),
        ({"weighing_step_g": 0.0}, "weighing step: 0.0 g is no step"),
        ({"new_metal_percent": 120.0}, "new metal: 120 % is no share; 0 to 100 %"),
        ({"fineness_permille": 1200.0}, "1200 permille is no fineness"),
        ({"fineness_permille": 999.99}, "999.99 permille are asked and the finest metal guarantees 999.9"),
        ({"lots": [SCRAP, SCRAP]}, "bench scrap: two lots have this name"),
        ({"lots": [lot("x", StockKind.SCRAP, -1, Au=750)]}, "x: -1 g is no mass"),
        ({"lots": [lot("x", StockKind.SCRAP, 1, Au=750, Ag=500)]}, "its composition sums to 1250 permille"),
        ({"lots": [lot("x", StockKind.SCRAP, 1)]}, "its composition sums to 0 permille"),
        ({"lots": [lot("x", StockKind.SCRAP, 1, -3, Au=750)]}, "a spread of -3 permille"),
        ({"at_least_g": {"gone": 1.0}}, "at least: no lot is called 'gone'"),
        ({"lots": [SCRAP], "at_least_g": {"bench scrap": 9.0}}, "9 g are to go in, 8.4 g are there"),
        ({"lots": [CADMIUM], "at_least_g": {"old solder": 1.0}}, "old solder: it must go in, and it holds Cd"),
        ({"lots": [SCRAP], "at_least_g": {"bench scrap": 8.0}, "mass_g": 5.0}, "the charge is 5 g; a larger charge"),
        ({"fine": ()}, "neither the stock nor the fine metals hold Au, Ag, Cu"),
    ],
)
def test_bad_input_is_told_in_one_sentence(more: dict[str, Any], says: str) -> None:
    mass = more.pop("mass_g", 20.0)
    with pytest.raises(BadInput) as caught:
        if "fine" in more:
            metal.recipe(YELLOW, mass, elements=FACTS.elements, rules=FACTS.metal_rules, **more)
        else:
            recipe(YELLOW, mass, **more)
    assert says in str(caught.value)
    assert len(caught.value.mistakes) == 1


def test_all_mistakes_are_told_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        recipe(YELLOW, -1.0, new_metal_percent=-5.0, weighing_step_g=-1.0)
    assert len(caught.value.mistakes) == 3


def test_scrap_of_no_mass_is_refused() -> None:
    with pytest.raises(BadInput, match="scrap: 0 g is no mass"):
        metal.scrap_lot(YELLOW, 0)


COMPOSITIONS = st.tuples(st.integers(0, 1000), st.integers(0, 1000), st.integers(1, 1000)).map(
    lambda t: {s: float(1000 * x // sum(t)) for s, x in zip(("Au", "Ag", "Cu"), t, strict=True)}
)
LOTS = st.lists(
    st.builds(
        lambda kind, mass, composition, spread: (kind, mass, composition, spread),
        st.sampled_from(list(StockKind)),
        st.integers(0, 3000).map(lambda n: n / 100),
        COMPOSITIONS,
        st.integers(0, 12).map(float),
    ),
    max_size=5,
).map(
    lambda raw: tuple(
        Lot(name=f"lot {i}", kind=k, mass_g=m, composition=c, spread_permille=s) for i, (k, m, c, s) in enumerate(raw)
    )
)


@given(
    key=st.sampled_from(["18k-3n", "14k-red", "9k-rich", "ag925", "22k-yellow"]),
    mass=st.integers(200, 6000).map(lambda n: n / 100),
    step=st.sampled_from(["0.01", "0.05", "0.1"]),
    lots=LOTS,
    new=st.sampled_from([0.0, 30.0, 50.0, 100.0]),
    at_hand=st.booleans(),
    priced=st.booleans(),
)
@settings(max_examples=40, deadline=None)
def test_any_stock_gives_a_recipe_that_keeps_the_mark(
    key: str, mass: float, step: str, lots: tuple[Lot, ...], new: float, at_hand: bool, priced: bool
) -> None:
    alloy = row_of(key)
    outcome = recipe(
        alloy,
        mass,
        lots=lots,
        fine_at_hand=at_hand,
        new_metal_percent=new,
        weighing_step_g=float(step),
        prices=PRICES if priced else (),
    )
    holds(outcome, alloy, mass, lots, step)
    assert outcome.result.new_metal_percent >= new - 1e-3
    assert ("stock-short" in kinds(outcome)) is any(part.buy for part in outcome.result.parts)
    assert sum(outcome.result.composition.values()) <= 100.01


def objective(task: Task, sources: list[Source], counts: tuple[int, ...]) -> float | None:
    """The slow twin's cost of a recipe, written out anew; None where it breaks a rule."""
    total = sum(counts)
    pairs = list(zip(sources, counts, strict=True))
    if not task.steps <= total <= task.steps + 3:
        return None
    if any(n and not x.fewest <= n <= (x.most if x.most is not None else total) for x, n in pairs):
        return None
    if any(n < x.least for x, n in pairs):
        return None
    if guaranteed(sources, counts, task.main) < Fraction(str(task.fineness_permille)):
        return None
    if sum(n for x, n in pairs if x.kind is StockKind.SCRAP) > task.scrap_share * total + 1e-9:
        return None
    cost = sum(n * (x.cost * (1.01 if x.most is None else 1) + task.weight * (5 + 10 * x.buy)) for x, n in pairs)
    for symbol in {*task.target, *(s for x in sources for s in x.composition)}:
        off = abs(sum(n * x.composition.get(symbol, 0.0) for x, n in pairs) - task.target.get(symbol, 0.0) * total)
        cost += task.weight * (off + 1000 * max(0.0, off - task.tolerance * total)) / 1000
    return cost


@pytest.mark.parametrize("steps", [25, 28])
@pytest.mark.parametrize("spread", [0.0, 7.0])
@pytest.mark.parametrize("priced", [True, False])
def test_the_programme_finds_what_trying_every_recipe_finds(steps: int, spread: float, priced: bool) -> None:
    def source(name: str, kind: StockKind, most: int | None, cost: float, spread: float = 0.0, **c: float) -> Source:
        return Source(name, kind, c, spread, most, 0, cost if priced else float(kind is not StockKind.SCRAP), False)

    sources = [
        source("gold", StockKind.FINE, None, 95, Au=999.9),
        source("silver", StockKind.FINE, None, 1.1, Ag=999),
        source("master", StockKind.MASTER, 20, 0.6, Cu=500, Ag=495, Zn=5),
        source("scrap", StockKind.SCRAP, 18, 0, spread, Au=720, Ag=140, Cu=140),
    ]
    target = {"Au": 750.0, "Ag": 125.0, "Cu": 125.0}
    task = Task("Au", 750.0, target, steps, 0.5, 5.0, 71.4 if priced else 1.0)
    counts = solve(task, sources, strict=False)
    assert counts is not None
    found = objective(task, sources, tuple(counts))
    assert found is not None
    ranges = [range(steps + 4) if x.most is None else range(min(x.most, steps + 3) + 1) for x in sources[:-1]]
    best = min(
        value
        for free in itertools.product(*ranges)
        for last in range(max(0, steps - sum(free)), steps + 4 - sum(free))
        if (value := objective(task, sources, (*free, last))) is not None
    )
    assert found <= best * (1 + 2e-5) + 1e-6
