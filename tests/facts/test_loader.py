"""The loader of the trade's figures: what does not say where it is from, or cannot be, does not load."""

from __future__ import annotations

import pytest

from ringwright import facts
from ringwright.terms.facts import used
from ringwright.terms.mistake import BadInput

BOUNDS = {"density_g_cm3": {"min": 1.0, "max": 23.0}, "fineness_permille": {"min": 1, "max": 1000},
          "composition": {"min": 0.001, "max": 100}}  # fmt: skip

ROW = """
key = "{key}"
title = "A gold"
metal = "gold"
fineness_permille = 750
colour = "yellow"
composition = {{ Au = 75.0, Ag = 12.5, Cu = 12.5 }}
density_g_cm3 = {density}
"""


def table(*rows: str, head: str = 'source = "A handbook, 3rd edition"\nbasis = "handbook"') -> dict[str, str]:
    body = "".join(f"[[row]]{row}\n" for row in rows)
    return {"a.toml": f'[table]\nname = "alloys"\ntitle = "Golds"\n{head}\n{body}'}


def complaint(texts: dict[str, str]) -> str:
    with pytest.raises(BadInput) as caught:
        facts.read(texts, BOUNDS)
    return str(caught.value)


def test_a_sound_row_loads_with_the_source_of_its_table() -> None:
    loaded = facts.read(table(ROW.format(key="x", density=15.4)), BOUNDS)
    assert [(a.key, a.density_g_cm3, a.source) for a in loaded.alloys] == [("x", 15.4, "A handbook, 3rd edition")]


def test_a_row_without_source_or_basis_does_not_load() -> None:
    said = complaint(table(ROW.format(key="x", density=15.4), head=""))
    assert "a.toml, row 1 (x): no source" in said and "no basis" in said


def test_a_slipped_decimal_point_is_caught() -> None:
    assert "density_g_cm3 = 154.5; between 1.0 and 23.0" in complaint(table(ROW.format(key="x", density=154.5)))


def test_a_number_inside_a_composition_is_checked_too() -> None:
    assert "composition = 750" in complaint(table(ROW.format(key="x", density=15.4).replace("75.0", "750.0")))


def test_an_unknown_column_and_an_unbounded_one_are_refused() -> None:
    said = complaint(table(ROW.format(key="x", density=15.4) + "density_lb = 3.0\n"))
    assert "unknown column density_lb" in said and "column density_lb has no bounds" in said


def test_an_unknown_table_is_refused() -> None:
    assert "unknown table 'aloys'" in complaint({"a.toml": '[table]\nname = "aloys"\n'})


def test_all_faults_are_told_at_once() -> None:
    said = complaint(table(ROW.format(key="x", density=0.1), ROW.format(key="y", density=99)))
    assert "row 1 (x)" in said and "row 2 (y)" in said


def test_sources_may_disagree_only_where_a_preference_is_named() -> None:
    two = (ROW.format(key="x", density=15.4), ROW.format(key="x", density=15.6))
    assert "2 rows disagree and 0 of them are preferred" in complaint(table(*two))
    one_preferred = (two[0], two[1] + 'preference = "weighed by us"\n')
    loaded = facts.read(table(*one_preferred), BOUNDS)
    assert used(loaded.alloys, "x").density_g_cm3 == 15.6


def test_the_nearest_known_key_is_offered() -> None:
    loaded = facts.read(table(ROW.format(key="18k-3n", density=15.4)), BOUNDS)
    with pytest.raises(BadInput, match="no alloy is called '18k3n'; did you mean '18k-3n'"):
        used(loaded.alloys, "18k3n", "alloy")


def test_the_shipped_tables_load_and_every_row_says_where_it_is_from() -> None:
    loaded = facts.load()
    for name in facts.row_kinds():
        for row in getattr(loaded, name):
            assert len(row.source) >= 8, f"{name}/{row.key}: '{row.source}' names no source"
