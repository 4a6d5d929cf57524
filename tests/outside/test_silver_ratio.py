"""Hardening of golds by the silver ratio, after McDonald and Sistare, Gold Bulletin 11 (1978)."""

from __future__ import annotations

import pytest

from ringwright.steps import metal
from tests.agrees import agrees
from tests.steps.metal_facts import FACTS, row_of

SOURCE = "after McDonald and Sistare, Gold Bulletin 11 (1978)"


@pytest.mark.parametrize(("key", "percent", "says"), [("14k-yellow", 49, "hard"), ("14k-casting", 11, "medium")])
def test_class_of_14_carat(key: str, percent: float, says: str) -> None:
    row = row_of(key)
    ratio = metal.silver_ratio(row.composition)
    assert ratio is not None
    agrees(ratio, percent, within=0.5, absolute=True, source=SOURCE, what=f"silver ratio of {key}, %")
    found = metal.hardening(row.metal, row.fineness_permille, row.composition, FACTS.hardening_classes)
    assert found is not None and found.says.startswith(says) and found.hardens


@pytest.mark.parametrize(
    ("key", "hardens"), [("18k-3n", True), ("18k-5n", False), ("22k-yellow", False), ("18k-green", False)]
)
def test_18_carat_is_one_class_softer_and_22_always_workable(key: str, hardens: bool) -> None:
    row = row_of(key)
    found = metal.hardening(row.metal, row.fineness_permille, row.composition, FACTS.hardening_classes)
    assert found is not None and found.hardens is hardens


@pytest.mark.parametrize("key", ["ag925", "18k-pd15", "9k-yellow", "18k-ni17"])
def test_the_rule_is_not_stretched(key: str) -> None:
    row = row_of(key)
    assert metal.hardening(row.metal, row.fineness_permille, row.composition, FACTS.hardening_classes) is None
