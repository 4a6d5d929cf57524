"""All tables of the trade's figures, as the steps receive them. One field a table; rows are :class:`Row` values."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

from ringwright.terms.alloy import AlloyFact, ElementFact
from ringwright.terms.bench import BenchRuleFact, BenchTaskFact, CautionFact, HazardFact, QuenchFact
from ringwright.terms.burnout import (
    BurnoutHeatFact,
    BurnoutNeedFact,
    BurnoutRampFact,
    BurnoutScheduleFact,
    MouldReactionFact,
)
from ringwright.terms.fact import Row
from ringwright.terms.finger import FitFact, SizeChartFact, SizeSystemFact
from ringwright.terms.gems import (
    CutFact,
    CutRisk,
    GemFact,
    GirdleFact,
    GirdleFactor,
    RoundDiameter,
    TreatmentFact,
    WeightRule,
)
from ringwright.terms.mark import (
    ExemptionFact,
    FinenessFact,
    GlyphFact,
    MarketFact,
    MarkLimitFact,
    ToleranceFact,
    WordingFact,
)
from ringwright.terms.metal import (
    ElementHeat,
    FineMetal,
    HardeningClass,
    HardnessTerm,
    MetalColour,
    MetalLimit,
    MetalRule,
)
from ringwright.terms.mistake import bad
from ringwright.terms.pattern import ContractionFact, PrintRuleFact, ResinFact, StockFact
from ringwright.terms.piece import PieceLimit, StarterProportion
from ringwright.terms.pour import (
    CastingExperimentFact,
    FlaskTemperatureFact,
    MeltTemperatureFact,
    PourClassFact,
    PourLimit,
)
from ringwright.terms.price import CurrencyFact, PricePracticeFact
from ringwright.terms.setting import SettingLimit, SettingPractice, WallLimit
from ringwright.terms.tree import (
    CastingLossFact,
    ClearanceFact,
    CrucibleRule,
    InvestmentFact,
    PowderRule,
    SprueRule,
)
from ringwright.terms.wear import LoadCaseFact, WearLimitFact

R = TypeVar("R", bound=Row)


@dataclass(frozen=True, kw_only=True)
class Facts:
    """Every table. The name of a field is the name of the table in the data files and on the command line."""

    elements: tuple[ElementFact, ...] = ()
    alloys: tuple[AlloyFact, ...] = ()
    gem_materials: tuple[GemFact, ...] = ()
    gem_treatments: tuple[TreatmentFact, ...] = ()
    cuts: tuple[CutFact, ...] = ()
    weight_rules: tuple[WeightRule, ...] = ()
    girdle_words: tuple[GirdleFact, ...] = ()
    girdle_factors: tuple[GirdleFactor, ...] = ()
    round_diameters: tuple[RoundDiameter, ...] = ()
    cut_risks: tuple[CutRisk, ...] = ()
    element_heats: tuple[ElementHeat, ...] = ()
    metal_rules: tuple[MetalRule, ...] = ()
    metal_limits: tuple[MetalLimit, ...] = ()
    fine_metals: tuple[FineMetal, ...] = ()
    hardness_terms: tuple[HardnessTerm, ...] = ()
    hardening_classes: tuple[HardeningClass, ...] = ()
    metal_colours: tuple[MetalColour, ...] = ()
    piece_limits: tuple[PieceLimit, ...] = ()
    starter_proportions: tuple[StarterProportion, ...] = ()
    investments: tuple[InvestmentFact, ...] = ()
    resins: tuple[ResinFact, ...] = ()
    contraction: tuple[ContractionFact, ...] = ()
    stock: tuple[StockFact, ...] = ()
    print_rules: tuple[PrintRuleFact, ...] = ()
    sprue_rules: tuple[SprueRule, ...] = ()
    flask_clearances: tuple[ClearanceFact, ...] = ()
    casting_losses: tuple[CastingLossFact, ...] = ()
    crucible_rules: tuple[CrucibleRule, ...] = ()
    powder_rules: tuple[PowderRule, ...] = ()
    pour_classes: tuple[PourClassFact, ...] = ()
    flask_temperatures: tuple[FlaskTemperatureFact, ...] = ()
    melt_temperatures: tuple[MeltTemperatureFact, ...] = ()
    pour_limits: tuple[PourLimit, ...] = ()
    casting_experiments: tuple[CastingExperimentFact, ...] = ()
    size_systems: tuple[SizeSystemFact, ...] = ()
    size_charts: tuple[SizeChartFact, ...] = ()
    fit_allowances: tuple[FitFact, ...] = ()
    burnout_schedules: tuple[BurnoutScheduleFact, ...] = ()
    burnout_needs: tuple[BurnoutNeedFact, ...] = ()
    burnout_ramps: tuple[BurnoutRampFact, ...] = ()
    mould_reactions: tuple[MouldReactionFact, ...] = ()
    burnout_heat: tuple[BurnoutHeatFact, ...] = ()
    bench_tasks: tuple[BenchTaskFact, ...] = ()
    bench_rules: tuple[BenchRuleFact, ...] = ()
    quench: tuple[QuenchFact, ...] = ()
    hazards: tuple[HazardFact, ...] = ()
    cautions: tuple[CautionFact, ...] = ()
    currencies: tuple[CurrencyFact, ...] = ()
    price_practice: tuple[PricePracticeFact, ...] = ()
    wall_limits: tuple[WallLimit, ...] = ()
    setting_limits: tuple[SettingLimit, ...] = ()
    setting_practice: tuple[SettingPractice, ...] = ()
    load_cases: tuple[LoadCaseFact, ...] = ()
    wear_limits: tuple[WearLimitFact, ...] = ()
    markets: tuple[MarketFact, ...] = ()
    finenesses: tuple[FinenessFact, ...] = ()
    mark_exemptions: tuple[ExemptionFact, ...] = ()
    mark_tolerances: tuple[ToleranceFact, ...] = ()
    mark_limits: tuple[MarkLimitFact, ...] = ()
    wordings: tuple[WordingFact, ...] = ()
    letters: tuple[GlyphFact, ...] = ()


def used(rows: Iterable[R], key: str, what: str = "row") -> R:
    """The row of that key that is used: the only one, or the preferred one where sources disagree.

    Raises :class:`~ringwright.terms.mistake.BadInput` that names the nearest known key.
    """
    import difflib

    rows = tuple(rows)
    found = [row for row in rows if row.key == key]
    if not found:
        near = difflib.get_close_matches(key, {row.key for row in rows}, n=1, cutoff=0.4)
        known = ", ".join(sorted({row.key for row in rows}))
        raise bad("", f"no {what} is called '{key}'", f"did you mean '{near[0]}'?" if near else f"known: {known}")
    return next((row for row in found if row.preference), found[0])
