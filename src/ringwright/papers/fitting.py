"""Cards that are a little longer than a page are drawn a little smaller, so that no page holds a few lines alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ringwright.papers.blocks import Block

SMALLER = (0.95, 0.915, 0.88)
"""What may be tried; at the last the smallest letters, of 8 points, are still 7 points high."""

NEARLY_EMPTY_MM = 130.0
"""A second page that ends so near to the top of the sheet is nearly empty."""

_TOP_MM, _PAGE_MM = 15.0, 265.0
"""Where the text of an A4 page begins, and its height."""

_BLANK = 1.06
"""A first page may hold so much less than its height, where what came next could not be parted."""


@dataclass(frozen=True)
class End:
    """Where a card ends: the page of the paper, and how far down on it."""

    page: int
    down_mm: float


def fit(cards: Sequence[Block], ends: Callable[[Sequence[Block]], Sequence[End]]) -> None:
    """Set ``by`` on cards that a smaller drawing saves a nearly empty page.

    ``ends`` says where some cards end when they are drawn by themselves. Only what
    may do by the room that is needed is tried, and only with the cards that spill.
    """
    found = ends(cards)
    long = {
        n: _PAGE_MM + found[n].down_mm - _TOP_MM
        for n, pages in enumerate(_pages(found))
        if pages == 2 and found[n].down_mm < NEARLY_EMPTY_MM
    }
    for by in SMALLER:
        tried = [n for n, needed_mm in long.items() if needed_mm * by**2 <= _PAGE_MM * _BLANK]
        if not tried:
            continue
        for n in tried:
            cards[n]["by"] = by
        for n, pages in zip(tried, _pages(ends([cards[n] for n in tried])), strict=True):
            if pages == 1:
                del long[n]
    for n in long:
        cards[n].pop("by", None)


def _pages(ends: Sequence[End]) -> list[int]:
    """How many pages each card takes."""
    return [after - before for before, after in pairwise([0, *(end.page for end in ends)])]
