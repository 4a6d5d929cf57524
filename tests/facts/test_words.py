"""Everything that a fact says to a reader is said in every language of the pages: cell by cell, none is let off."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from ringwright import facts, words
from ringwright.desk import asking
from ringwright.steps import mark
from ringwright.steps.bench import cautions
from ringwright.web.pages.columns import parted
from ringwright.words.facts import AS_WRITTEN, COLUMN, TABLE, catalogue, cited, numbered, said, told
from ringwright.words.sentences import spoken

OTHERS = [code for code in words.languages() if code != words.ENGLISH]


def texts(value: Any) -> Iterator[str]:
    """Every text in a cell, also those in lists and small tables."""
    if isinstance(value, str):
        yield str(value)
    elif isinstance(value, Mapping):
        for name, part in value.items():
            yield name
            yield from texts(part)
    elif isinstance(value, (tuple, list)):
        for part in value:
            yield from texts(part)


def cells() -> Iterator[tuple[str, str, str, str]]:
    """Table, key of the row, column and text of every cell of the facts that holds one, as the loader gives them."""
    loaded = facts.load()
    for table in dataclasses.fields(loaded):
        for row in getattr(loaded, table.name):
            for column in dataclasses.fields(row):
                for text in texts(getattr(row, column.name)):
                    yield table.name, row.key, column.name, text


def exempt(table: str, column: str) -> bool:
    return column in AS_WRITTEN or f"{table}.{column}" in AS_WRITTEN


@pytest.mark.parametrize("code", OTHERS)
def test_every_cell_that_is_read_is_said(code: str) -> None:
    wanted = [cell for cell in cells() if cell[3] and not exempt(cell[0], cell[2])]
    missing = [f"{table}, {key}, {column}: {text}" for table, key, column, text in wanted if not told(code, text)]
    assert len(wanted) > 3000
    assert not missing, "\n".join(dict.fromkeys(missing))


def test_no_column_is_let_off_that_is_not_there() -> None:
    there = {column for _table, _key, column, _text in cells()} | {f"{t}.{c}" for t, _key, c, _text in cells()}
    assert set(AS_WRITTEN) <= there


@pytest.mark.parametrize("code", OTHERS)
def test_every_table_and_column_has_its_name(code: str) -> None:
    found, loaded = catalogue(code), facts.load()
    for table, kind in facts.row_kinds().items():
        assert (TABLE, table.replace("_", " ")) in found, table
        for column in dataclasses.fields(kind):
            shown = any(getattr(row, column.name) not in (None, "", (), {}) for row in getattr(loaded, table))
            if shown and column.name not in {"basis", "condition", "preference"}:
                assert (COLUMN, parted(column.name)[0].replace("_", " ")) in found, f"{table}, {column.name}"
    for one in asking.table():
        assert told(code, one["row"]), one["row"]


@pytest.mark.parametrize("code", OTHERS)
def test_nothing_stands_in_the_catalogue_that_no_fact_says(code: str) -> None:
    """So that a text that is reworded does not leave its old translation behind."""
    loaded = facts.load()
    there = {("", text) for cell in cells() for text in (cell[3], numbered(cell[3]))}
    there |= {("word", cell[3]) for cell in cells()} | {("", one["row"]) for one in asking.table()}
    there |= {(TABLE, table.replace("_", " ")) for table in facts.row_kinds()}
    there |= {
        (COLUMN, parted(column.name)[0].replace("_", " "))
        for kind in facts.row_kinds().values()
        for column in dataclasses.fields(kind)
    }
    left = [key for key in catalogue(code) if key not in there]
    assert all(key[0] == "" and any(part in key[1] for part in ("({", "Local codes", "Read in")) for key in left), left
    assert len(left) <= len(loaded.hazards) + 3


@pytest.mark.parametrize("code", OTHERS)
def test_facts_and_steps_say_the_same_of_the_same(code: str) -> None:
    from babel.messages.pofile import read_po

    found, both = catalogue(code), []
    for file in words.files_of(code):
        with file.open("rb") as opened:
            for one in read_po(opened, locale=code):
                if one.id and one.context is None and ("", str(one.id)) in found:
                    both.append((str(one.id), str(one.string)))
    assert len(both) > len(found) / 2
    assert [pair for pair in both if found["", pair[0]] != pair[1]] == []


@pytest.mark.parametrize("code", OTHERS)
def test_figures_are_not_lost_in_translation(code: str) -> None:
    """Every number of an English text stands in the other language's too, 0.5 perhaps as 0,5."""
    for (context, text), other in catalogue(code).items():
        if context == COLUMN:
            continue
        for number in re.findall(r"\d+(?:\.\d+)*", text):
            assert number in other or number.replace(".", ",") in other, (context, text, number)


def test_a_cell_is_said_as_its_column_asks() -> None:
    assert said("markets", "must", "fineness mark {mark}") == "fineness mark {mark}"
    with words.speaking("de"):
        assert said("markets", "must", "fineness mark {mark}") == "Feingehaltsstempel {mark}"
        assert said("gem_materials", "torch", "never") == "nie"
        assert said("gem_materials", "cleavage", "none") == "keine"
        assert said("gem_materials", "also", "diamond") == "diamond"
        assert said("alloys", "source", "common practice") == "allgemeine Praxis"
        assert said("hazards", "source", "IEC 60079-20-1:2010") == "IEC 60079-20-1:2010"


def test_the_words_of_columns_are_not_put_into_sentences() -> None:
    """A file's word, as in "habits.investment = gypsum", is not to be translated where a sentence names it."""
    with words.speaking("de"):
        assert spoken("gypsum") == "gypsum"
        assert spoken("18 carat yellow 3N") == "18 Karat Gelbgold 3N"


def test_what_the_law_says_is_said_with_this_ring_s_figures() -> None:
    with words.speaking("de"):
        assert spoken("fineness mark 750, struck by the assay office") == (
            "Feingehaltsstempel 750, vom Prüfamt geschlagen"
        )
        assert spoken("sell any article of gold, however light, without a hallmark") == (
            "einen Artikel aus Gold, wie leicht auch immer, ohne amtlichen Stempel verkaufen"
        )


@pytest.mark.parametrize("metal", ["gold", "silver", "platinum", "palladium"])
def test_all_that_the_law_of_every_market_says_is_said(metal: str) -> None:
    loaded = facts.load()
    rows, english = mark.rows_of(loaded), set()
    for market in loaded.markets:
        for fineness in (333.0, 585.0, 750.0, 925.0, 950.0, 999.0):
            for mass in (0.5, 5.0):
                found = mark.law(market.key, metal, fineness, mass, rows).result
                english.update((*found.must, *found.may, *found.never))
    assert len(english) > 40
    with words.speaking("de"):
        same = [text for text in english if re.search("[a-z]{3}", text) and spoken(text) == text]
        torn = [spoken(text) for text in english if re.search(r"\b(the|with|by|and|struck|that)\b", spoken(text))]
    assert not same and not torn


def test_cautions_are_said_with_their_figures_and_defer_to_local_codes() -> None:
    loaded = facts.load()
    with words.speaking("de"):
        for one in cautions([row.key for row in loaded.cautions], loaded.cautions, loaded.hazards):
            assert spoken(one.says).endswith("Örtliche Vorschriften und zugelassene Praxis gehen vor.")
            assert told("de", one.says.removesuffix(" Local codes and licensed practice come first.")) in spoken(
                one.says
            )
            for figure in one.figures:
                assert spoken(figure) != figure, figure
        wash = next(row for row in loaded.cautions if "isopropanol" in row.hazards)
        first = cautions([wash.key], loaded.cautions, loaded.hazards)[0].figures[0]
        assert spoken(first).startswith("Isopropanol des Waschbads: Flammpunkt 12 °C, entzündet sich bei 399 °C, ")
        assert "explosionsfähig bis 12,7 % in der Luft" in spoken(first)
        assert spoken(first).endswith("(IEC 60079-20-1:2010)")


def test_the_law_and_where_it_was_read_is_said_as_a_whole() -> None:
    loaded = facts.load()
    rows = mark.rows_of(loaded)
    for market in loaded.markets:
        found = mark.law(market.key, "gold", 750.0, 5.0, rows).result
        assert ". Read in: " in found.source
        with words.speaking("de"):
            law, read, sources = cited(found.source).partition(". Gelesen in: ")
        assert law == told("de", market.law) and read and sources
        assert "from memory" not in sources and "page" not in sources, sources


def test_a_title_before_a_source_and_a_source_that_is_not_known() -> None:
    with words.speaking("de"):
        for row in facts.load().burnout_schedules:
            assert cited(f"{row.title}: {row.source}") == f"{told('de', row.title)}: {told('de', row.source)}"
        assert cited("a letter from a friend; common practice, no source") == ""
    assert cited("common practice, no source") == "common practice, no source"
