"""Published weight formulas of mounted stones, their worked examples, and our solids against them."""

from __future__ import annotations

import math

import pytest

from ringwright.steps import gems
from ringwright.terms.gems import WeightRule
from tests.agrees import agrees
from tests.steps.gem_stones import FACTS, MATERIALS, SIZES, worked

FORMULAS = "mounted-stone weight formulas, trade pages, at least three that agree"
EXAMPLE = "a published worked example of the mounted-stone weight formulas"
DEALERS = "textbook for diamond dealers, chapter 11, worked example"
COLOUR = "weight factors of coloured stones, trade pages"


def rule(key: str) -> WeightRule:
    rows = [row for row in FACTS.weight_rules if row.key == key]
    return next((row for row in rows if row.preference), rows[0])


def test_a_round_diamond_of_ten_millimetres() -> None:
    ours = gems.rule_mass_ct(rule("round brilliant, diamond"), 10.0, 10.0, 6.0, 3.52)
    agrees(ours, 3.66, within=0.01, absolute=True, source=EXAMPLE, what="round diamond 10.0 x 10.0 x 6.0 mm, ct")


def test_a_marquise_with_a_thick_girdle() -> None:
    factor = gems.girdle_factor("thick +", 6.11, FACTS.girdle_factors)
    agrees(factor, 1.035, within=0.0001, source=DEALERS, what="factor of a thick + girdle on a 6.11 mm stone")
    ours = gems.rule_mass_ct(rule("marquise, diamond"), 10.24, 6.11, 4.75, 3.52, factor)
    agrees(ours, 1.75, within=0.01, absolute=True, source=DEALERS, what="marquise 10.24 x 6.11 x 4.75 mm, ct")


def test_the_ratio_of_the_example() -> None:
    gem = worked("marquise", length_mm=7.42, width_mm=3.61, depth_mm=2.2).result
    agrees(gem.ratio, 2.06, within=0.006, absolute=True, source=EXAMPLE, what="length over width of 7.42 x 3.61 mm")


def test_a_stone_that_a_laboratory_weighed() -> None:
    source = "a laboratory's report: 6.82 x 6.85 x 4.22 mm, 1.21 ct"
    gem = worked(length_mm=6.82, width_mm=6.85, depth_mm=4.22, stated_mass_ct=1.21).result
    assert gem.rule_mass_ct is not None
    agrees(gem.rule_mass_ct.value, 1.203, within=0.001, source=EXAMPLE, what="that stone by rule, ct")
    agrees(gem.rule_mass_ct.value, 1.21, within=0.03, source=source, what="rule against the scale, ct")
    agrees(gem.mass_ct.value, 1.21, within=0.03, source=source, what="solid against the scale, ct")
    assert gem.plausible


@pytest.mark.parametrize(("material", "published"), [("sapphire", 1.14), ("opal", 0.61)])
def test_the_same_size_in_another_gem(material: str, published: float) -> None:
    source = "trade page: a stone of the size of a 1.00 ct diamond, by density (opal 2.15)"
    density = 2.15 if material == "opal" else MATERIALS[material].density_g_cm3
    ours = density / MATERIALS["diamond"].density_g_cm3
    agrees(ours, published, within=0.01, absolute=True, source=source, what=f"{material} in the size of 1.00 ct, ct")


def test_the_volume_of_a_carat() -> None:
    volume = 200 / MATERIALS["diamond"].density_g_cm3
    agrees(volume, 56.8, within=0.3, absolute=True, source="exact: 0.2 g over 3.52 g/cm3", what="1 ct of diamond, mm3")


def test_an_oval_cabochon_of_opal() -> None:
    gem = worked("cabochon", material="opal", treatment="none").result
    assert gem.rule_mass_ct is not None
    agrees(gem.rule_mass_ct.value, 1.81, within=0.005, source=COLOUR, what="opal cabochon 10 x 8 x 4 mm by rule, ct")
    exact = math.pi / 6 * 10 * 8 * 4 * 2.10 / 200
    bare = worked("cabochon", material="opal", treatment="none", girdle_percent=0.0).result
    agrees(bare.mass_ct.value, exact, within=0.002, source="exact: half an ellipsoid", what="the same, half ellipsoid")
    agrees(gem.mass_ct.value, 1.81, within=0.04, source=COLOUR, what="the same with its wall, by the solid, ct")


@pytest.mark.parametrize(
    ("cut", "within"),
    [
        ("round brilliant", 0.02),
        ("oval", 0.05),
        ("pear", 0.06),
        ("marquise", 0.06),
        ("heart", 0.05),
        ("cushion", 0.05),
        ("princess", 0.03),
        ("step cut", 0.06),
        ("square step cut", 0.06),
        ("baguette", 0.08),
    ],
)
def test_our_solids_fill_their_box_as_the_formulas_say(cut: str, within: float) -> None:
    """A factor k of a diamond means k / 0.0176 of the box; the formulas themselves hold within 5 to 10 %."""
    gem = worked(cut).result
    length, width, depth = SIZES[cut]
    by_rule = gems.rule_mass_ct(rule(f"{cut}, diamond"), length, width, depth, 3.52) / 0.0176 / (length * width * depth)
    agrees(gem.box_share, by_rule, within=within, source=FORMULAS, what=f"share of the box, {cut} {length} x {width}")


@pytest.mark.parametrize(("ratio", "within"), [(1.0, 0.08), (1.25, 0.09), (1.5, 0.06), (2.0, 0.02), (2.5, 0.04)])
def test_step_cuts_of_every_length(ratio: float, within: float) -> None:
    gem = worked("step cut", length_mm=6 * ratio, width_mm=6.0, depth_mm=3.84, stated_mass_ct=None).result
    by_rule = gems.rule_mass_ct(rule("step cut, diamond"), 6 * ratio, 6.0, 3.84, 3.52)
    agrees(gem.mass_ct.value, by_rule, within=within, source=FORMULAS, what=f"step cut, {ratio} to 1, ct")


@pytest.mark.parametrize("ratio", [1.5, 1.75, 2.0, 2.25, 2.5])
def test_marquises_of_every_usual_length(ratio: float) -> None:
    """Our two-arc stone with one culet falls behind as it grows longer: 10.2 % light at 3 to 1."""
    gem = worked("marquise", length_mm=5 * ratio, width_mm=5.0, depth_mm=3.1).result
    by_rule = gems.rule_mass_ct(rule("marquise, diamond"), 5 * ratio, 5.0, 3.1, 3.52)
    agrees(gem.mass_ct.value, by_rule, within=0.10, source=FORMULAS, what=f"marquise, {ratio} to 1, ct")


@pytest.mark.parametrize("ratio", [1.25, 1.5, 1.66, 2.0])
def test_pears_of_every_length(ratio: float) -> None:
    gem = worked("pear", length_mm=6 * ratio, width_mm=6.0, depth_mm=3.65).result
    by_rule = gems.rule_mass_ct(rule("pear, diamond"), 6 * ratio, 6.0, 3.65, 3.52)
    agrees(gem.mass_ct.value, by_rule, within=0.06, source=FORMULAS, what=f"pear, {ratio} to 1, ct")
