"""The papers of a making as PDF: the offer for the client, the cards for the bench, the certificate for the ring."""

from __future__ import annotations

import datetime as dt
from typing import Any

from ringwright.papers import ring
from ringwright.papers.blocks import Block, Card, Paper
from ringwright.papers.care import once
from ringwright.papers.certifying import certificate_card
from ringwright.papers.firing import burnout_card
from ringwright.papers.hands import bench_card, marking_sheet, strip_picture
from ringwright.papers.heed import heed_card
from ringwright.papers.mould import casting_card, pattern_card
from ringwright.papers.pouring import pour_card
from ringwright.papers.press import pdf
from ringwright.papers.quoting import offer_card
from ringwright.papers.stones import setting_card
from ringwright.papers.tongue import own
from ringwright.papers.views import ASLANT, View
from ringwright.papers.words import remarks, title_words
from ringwright.papers.worn import worn_card
from ringwright.words import ENGLISH, speaking
from ringwright.words.numbers import day


def pdfs(making: Any, _stamp: dt.datetime) -> dict[str, bytes]:
    """``bench.pdf``, and ``quote.pdf`` and ``certificate.pdf`` where a price and a metal are found.

    They are in the language that the workshop chose for its papers. The stamp is on none of them: the same making gives
    the same bytes.
    """
    with speaking(ENGLISH):
        seen = ring.pictures(making)
        papers = {
            "bench.pdf": bench_paper(making, seen),
            "certificate.pdf": certificate_paper(making, seen),
            "quote.pdf": quote_paper(making, seen),
        }
    language = making.workshop.papers.language.value
    return {name: pdf(paper, language) for name, paper in papers.items() if paper is not None}


def quote_paper(making: Any, seen: dict[str, View]) -> Paper | None:
    """The offer for the client; None without a price."""
    picture = ring.plain_view(seen, ASLANT.name, 64.0, 52.0)
    return _for_the_client(making, seen, "offer", offer_card(making, picture, own(title_words(making).text)), picture)


def certificate_paper(making: Any, seen: dict[str, View]) -> Paper | None:
    """The certificate for the ring; None without a metal."""
    picture = ring.plain_view(seen, ASLANT.name, 50.0, 62.0)
    card = certificate_card(making, picture, own(title_words(making).text))
    return _for_the_client(making, seen, "certificate", card, picture, framed=True)


def _for_the_client(
    making: Any,
    seen: dict[str, View],
    name: str,
    card: Card | None,
    picture: tuple[Block, ...],
    *,
    framed: bool = False,
) -> Paper | None:
    if card is None:
        return None
    shop, commission = making.workshop.shop.name, own(making.commission.commission.number)
    title = f"{commission}: {name}"
    return Paper(title, shop, title, (own(shop), commission), (card,), ring.files(seen, picture), framed)


def bench_paper(making: Any, seen: dict[str, View]) -> Paper:
    """All cards for the bench, in the order of the work."""
    views = ring.dimensioned(making, seen)
    flask, tree = ring.in_flask(making)
    strip = strip_picture(making)
    cards = [
        heed_card(making, views, remarks(making)),
        pattern_card(making),
        casting_card(making, flask),
        burnout_card(making),
        pour_card(making),
        bench_card(making),
        setting_card(making),
        marking_sheet(making, drawn=bool(strip)),
        worn_card(making),
    ]
    kept = once(tuple(card for card in cards if card is not None))
    head = making.commission.commission
    number, called = own(head.number), own(shortened(head.title))
    due = (f"promised for {day(head.due)}",) if head.due is not None else ()
    pictures = ring.files(seen, views) | tree | strip
    shop = making.workshop.shop.name
    title = f"{own(head.number)} {own(shortened(head.title, 80))}: bench"
    return Paper(title, shop, f"{number}, bench", (number, called, *due), kept, pictures)


def shortened(text: str, most: int = 40) -> str:
    """A title for a corner of the page: cut where it is very long, with a sign that it is."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"
