"""Papers in the language that the workshop chose: its words, numbers and days; a person's own words as they are."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from ringwright import papers, words
from ringwright.desk.reading import workshop_in
from ringwright.papers.blocks import Paper
from ringwright.papers.fitting import End, fit
from ringwright.papers.pouring import pour_card
from ringwright.papers.press import pdf
from ringwright.papers.tongue import own, said, source
from ringwright.steps.bench.danger import DEFERS
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.workshop import Language, Papers
from ringwright.words.sentences import spoken
from tests.desk.texts import WORKSHOP
from tests.papers.makings import STAMP
from tests.papers.pours import POUR
from tests.papers.rings import Some, sapphire
from tests.papers.test_pdf import pages, ring


@cache
def printed(language: Language) -> dict[str, bytes]:
    return papers.files_of(speaking(language), STAMP)


def speaking(language: Language) -> Some:
    making = ring()
    return replace(making, workshop=replace(making.workshop, papers=Papers(language=language)))


def test_every_language_of_the_pages_can_be_chosen_for_papers() -> None:
    assert {one.value for one in Language} == set(words.languages())


def test_a_german_offer_is_german_to_its_numbers_and_days() -> None:
    german, english = (" ".join(pages(printed(one)["quote.pdf"])) for one in (Language.GERMAN, Language.ENGLISH))
    assert "Offer" in english and "Terms of this offer" in english and "14 March 2027" in english
    for told in ("Angebot", "Bedingungen dieses Angebots", "14. März 2027", "Anzahlung", "Verlust beim Schmelzen"):
        assert told in german, told
    assert "Terms" not in german and "March" not in german
    making = sapphire()
    assert making.price is not None
    total = making.price.result.total
    assert f"{total:.2f}" in english and f"{total:.2f}".replace(".", ",") in german
    assert making.commission.commission.title in german, "the client's own words"


def test_the_language_changes_papers_and_nothing_else() -> None:
    german, english = printed(Language.GERMAN), printed(Language.ENGLISH)
    changed = {name for name in english if german[name] != english[name]}
    assert {"bench.pdf", "quote.pdf", "certificate.pdf"} <= changed
    assert changed <= {"bench.pdf", "quote.pdf", "certificate.pdf", "dossier.json"}
    one, other = (files["dossier.json"] for files in (german, english))
    assert one.replace(b'"language": "de"', b'"language": "en"') == other


def test_the_same_making_gives_the_same_german_bytes_whoever_reads_now() -> None:
    with words.speaking("de"):
        again = papers.files_of(speaking(Language.GERMAN), STAMP)
        english = papers.files_of(speaking(Language.ENGLISH), STAMP)
    assert again == printed(Language.GERMAN)
    assert english == printed(Language.ENGLISH)


@pytest.mark.parametrize("language", list(Language))
def test_the_card_of_the_pour_is_one_page_with_its_cautions(language: Language) -> None:
    found = pour_card(replace(speaking(language), pour=Outcome("pour", POUR)))
    assert found is not None
    told = pages(pdf(Paper("pour", "shop", "foot", (), (found,)), language.value))
    with words.speaking(language.value):
        ways, deferral = spoken("Ways of leading the metal in"), spoken(DEFERS)
    assert len(told) == 1 and ways in told[0] and deferral in told[0]


def test_own_words_and_sources_are_not_put_into_sentences() -> None:
    with words.speaking("de"):
        assert said("Inscription: yes") == "Inschrift: ja"
        assert said(f"Inscription: {own('yes. 1.5 mm; head')}") == "Inschrift: yes. 1.5 mm; head"
        assert said({"kind": "table", "title": "Charge"}) == {"kind": "table", "title": "Einwaage"}
        assert said(f"{source('common practice, no source')}. Last checked 2 May 2026.").endswith("am 2. Mai 2026.")
    assert said(f"Inscription: {own('Æ')}") == "Inscription: Æ"


def test_a_language_that_there_is_not_is_a_mistake() -> None:
    assert workshop_in(f'{WORKSHOP}\n[papers]\nlanguage = "de"\n', "w.toml").papers.language is Language.GERMAN
    assert workshop_in(WORKSHOP, "w.toml").papers.language is Language.ENGLISH
    with pytest.raises(BadInput, match="'fr' is not known here"):
        workshop_in(f'{WORKSHOP}\n[papers]\nlanguage = "fr"\n', "w.toml")


def test_only_what_may_do_is_drawn_smaller() -> None:
    """A card with a little too much fits at the second try; one with half a page too much is left as it is."""
    cards = [{"long": 1.0}, {"long": 1.1}, {"long": 1.45}, {"long": 0.5}]

    def ends(some: list[dict[str, float]]) -> list[End]:
        page, found = 0, []
        for card in some:
            long = card["long"] * card.get("by", 1.0) ** 2
            page += 1 if long <= 1.0 else 2
            found.append(End(page, 15.0 + 265.0 * (long if long <= 1.0 else long - 1.0)))
        return found

    fit(cards, ends)  # type: ignore[arg-type]
    assert [card.get("by") for card in cards] == [None, 0.95, None, None]
