"""In another language no English is left: on the pages, at the steps of a real making, and on its papers."""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright import facts as shipped
from ringwright import words
from ringwright.desk.shelf import Shelf
from ringwright.papers import pdf as papers
from ringwright.papers import ring
from ringwright.papers.dossier import dossier
from ringwright.papers.plain import json_bytes
from ringwright.papers.tongue import said
from ringwright.web.pages import drawn
from ringwright.words import numbers
from ringwright.words.facts import cited
from ringwright.words.sentences import catalogue
from tests.papers.makings import STAMP
from tests.papers.rings import sapphire
from tests.web.conftest import KEY, work

OTHERS = [code for code in words.languages() if code != words.ENGLISH]
ENGLISH = re.compile(r"\b(the|of|is|are|and|with|which|from|must|not|been|they|its|when|than)\b")
"""Words that stand in nearly every English sentence, and in no German one."""


class Texts(HTMLParser):
    """All that a page shows or says: its text, labels, titles, and the words of its scripts; not what is written in."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.within: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style", "textarea", "head"):
            self.within.append(tag)
        for name, value in attrs:
            if name in ("aria-label", "title", "alt", "data-place") and value:
                self.found.append(value)
            if name == "data-words" and value:
                self.found += [str(one) for one in json.loads(value).values()]

    def handle_endtag(self, tag: str) -> None:
        if self.within and self.within[-1] == tag:
            self.within.pop()

    def handle_data(self, data: str) -> None:
        if not self.within and data.strip():
            self.found.append(data.strip())


def texts_of(html: str) -> list[str]:
    parser = Texts()
    parser.feed(html)
    return parser.found


@cache
def sources(code: str) -> tuple[str, ...]:
    """The sources of the facts as that language cites them: titles in them stay as they were printed."""
    loaded = shipped.load()
    found = {
        getattr(row, "source", "") for table in dataclasses.fields(loaded) for row in getattr(loaded, table.name)
    } - {""}
    with words.speaking(code):
        return tuple(sorted((cited(one) for one in found), key=len, reverse=True))


def left_in_english(texts: Iterator[str] | list[str], code: str, own: tuple[str, ...]) -> list[str]:
    """The texts that are English still, but for a person's own words and the titles of sources."""
    other = catalogue(code).texts
    found = []
    for text in dict.fromkeys(texts):
        if text in own or len(text) < 4:
            continue
        rest = text
        for one in (*own, *(sources(code) if ENGLISH.search(text) else ())):
            rest = rest.replace(one, "")
        if (other.get(text, text) != text and text not in other.values()) or ENGLISH.search(rest):
            found.append(text)
    return found


PAGES = ("/", "/?show=closed", "/new", "/workshop", "/facts", f"/c/{KEY}", f"/c/{KEY}/brief", f"/c/{KEY}/versions",
         f"/c/{KEY}/papers", "/c/nobody", "/nowhere", "/facts?search=gold")  # fmt: skip
OWN = ("The shank <i>is</i> thin here.", "The side is soft.", "Mass of the ring", "Direction of the head")
"""What the making of the tests says, which no catalogue has."""


@pytest.mark.parametrize("code", OTHERS)
def test_the_pages_leave_no_english(client: TestClient, shelf: Shelf, code: str) -> None:
    work(shelf)
    client.cookies.set("language", code)
    left = {}
    for path in PAGES:
        answer = client.get(path)
        assert f'lang="{code}"' in answer.text
        texts = texts_of(answer.text)
        assert len(texts) > 10
        left[path] = left_in_english(texts, code, OWN)
    assert {path: texts for path, texts in left.items() if texts} == {}


@pytest.mark.parametrize("code", OTHERS)
def test_the_steps_of_a_making_leave_no_english(code: str) -> None:
    data = json.loads(json_bytes(dossier(sapphire(), STAMP, ())))
    with words.speaking(code):
        pages = {name: str(drawn.step(name, part, "GBP")) for name, part in data["steps"].items()}
    assert len(pages) > 8
    for name, page in pages.items():
        assert left_in_english(texts_of(page), code, names()) == [], name


@pytest.mark.parametrize("code", OTHERS)
def test_the_papers_leave_no_english(code: str) -> None:
    making = sapphire()
    seen = ring.pictures(making)
    found = [papers.bench_paper(making, seen), papers.quote_paper(making, seen), papers.certificate_paper(making, seen)]
    for paper in found:
        assert paper is not None
        with words.speaking(code):
            texts = list(strings(said(paper.data())))
        assert len(texts) > 50
        assert left_in_english(texts, code, names()) == [], paper.title
    due = making.commission.commission.due
    assert due is not None
    assert numbers.day(due) not in " ".join(texts), "days as the language writes them"


def test_english_is_found_where_it_is_left() -> None:
    assert left_in_english(["the shank is 1.90 mm thick at the bottom", "Krappe 3"], "de", ()) != []
    assert left_in_english(["Gates", "Anschnitte"], "de", ()) == ["Gates"]


def names() -> tuple[str, ...]:
    """The client's and the workshop's own words."""
    making = sapphire()
    head = making.commission.commission
    stones = [stone.name for stone in making.commission.stone]
    lots = [lot.name for lot in making.workshop.stock]
    told = [stone.treatment for stone in making.commission.stone]
    return (head.title, head.number, making.workshop.shop.name, making.commission.mark.text, *stones, *told, *lots)


def strings(value: Any) -> Iterator[str]:
    """Every text of plain data, but for how it is drawn."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, part in value.items():
            if name not in ("kind", "width", "align", "file", "level", "mark", "shop", "name"):
                yield from strings(part)
    elif isinstance(value, (list, tuple)):
        for part in value:
            yield from strings(part)
