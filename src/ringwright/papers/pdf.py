"""The papers of a making as PDF: the offer for the client, the cards for the bench, the certificate for the ring."""

from __future__ import annotations

import datetime as dt
from typing import Any

from ringwright.papers import ring
from ringwright.papers.blocks import Paper
from ringwright.papers.firing import burnout_card
from ringwright.papers.hands import bench_card, marking_sheet, strip_picture
from ringwright.papers.heed import heed_card
from ringwright.papers.mould import casting_card, pattern_card
from ringwright.papers.press import pdf
from ringwright.papers.say import day
from ringwright.papers.stones import setting_card
from ringwright.papers.views import View
from ringwright.papers.worn import worn_card


def pdfs(making: Any, _stamp: dt.datetime) -> dict[str, bytes]:
    """``bench.pdf``, and ``quote.pdf`` and ``certificate.pdf`` where a price and a metal are found.

    The stamp is on none of them: the same making gives the same bytes.
    """
    seen = ring.pictures(making)
    papers = {"bench.pdf": bench_paper(making, seen)}
    return {name: pdf(paper) for name, paper in papers.items() if paper is not None}


def bench_paper(making: Any, seen: dict[str, View]) -> Paper:
    """All cards for the bench, in the order of the work."""
    views = ring.dimensioned(making, seen)
    flask, tree = ring.in_flask(making)
    cards = [
        heed_card(making, views),
        pattern_card(making),
        casting_card(making, flask),
        burnout_card(making),
        bench_card(making),
        setting_card(making),
        marking_sheet(making),
        worn_card(making),
    ]
    kept = tuple(card for card in cards if card is not None)
    head = making.commission.commission
    due = (f"promised for {day(head.due)}",) if head.due is not None else ()
    pictures = ring.files(seen, views) | tree | strip_picture(making)
    shop = making.workshop.shop.name
    title = f"{head.number} {head.title}: bench"
    return Paper(title, shop, f"{head.number}, bench", (head.number, shortened(head.title), *due), kept, pictures)


def shortened(text: str, most: int = 40) -> str:
    """A title for a corner of the page: cut where it is very long, with a sign that it is."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"
