"""The papers as they are printed: what stands on them, that they stay the same, and that no text can harm them."""

from __future__ import annotations

import datetime as dt
import io
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from ringwright.papers import pdf as papers
from ringwright.papers.blocks import Card, Column, Paper, table, text
from ringwright.papers.generic import figure_pairs, result_blocks
from ringwright.papers.press import pdf
from ringwright.papers.say import cash, dwt, measure
from ringwright.steps.bench.danger import DEFERS
from ringwright.steps.burnout import light_at
from ringwright.terms.body import Body, Role
from ringwright.terms.commission import MetalBrief
from ringwright.terms.mistake import ComputingFault
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import figures_of
from ringwright.terms.remark import Level, Remark
from ringwright.words.numbers import number
from tests.papers.makings import RESULT
from tests.papers.rings import STAMP, Some, sapphire
from tests.papers.test_views import torus

NASTY = '#*[ $x$ \\ ] #import "x" _very_ `raw` <label> @ref ~ -- /* no */ // end'


@cache
def drawn() -> dict[str, bytes]:
    """The papers of the whole making, with its real solids."""
    return papers.pdfs(sapphire(), STAMP)


@cache
def ring() -> Some:
    """The same making with small solids, whose pictures are quick."""
    making = sapphire()
    assert making.ring and making.tree
    small = torus(9.0, 1.0, 24)
    tree = replace(making.tree, bodies=(Body("tree", Role.TREE, small.moved(np.eye(3), np.array([0, 0, -30.0]))),))
    return replace(making, ring=replace(making.ring, metal=small), tree=tree)


def printed(making: Some) -> dict[str, bytes]:
    return papers.pdfs(making, STAMP)


def plain(words: str) -> str:
    """A text without ligatures, joined words and line ends, to be found in another."""
    words = unicodedata.normalize("NFKC", words).replace("\u200b", "")
    return re.sub(r"\s+", " ", words)


def pages(data: bytes) -> list[str]:
    return [plain(page.extract_text()) for page in PdfReader(io.BytesIO(data)).pages]


def whole(data: bytes) -> str:
    return " ".join(pages(data))


def holds(told: str, *wanted: str) -> None:
    """Each wanted text stands there, wherever its lines are broken."""
    joined = told.replace(" ", "")
    for one in wanted:
        assert plain(one).replace(" ", "") in joined, f"'{one}' is missing"


def changed(making: Some, **heading: Any) -> Some:
    head = replace(making.commission.commission, **heading)
    return replace(making, commission=replace(making.commission, commission=head))


def with_stone(making: Some, **words: Any) -> Some:
    stone = replace(making.commission.stone[0], **words)
    return replace(making, commission=replace(making.commission, stone=(stone,)))


# ---- what stands there -----------------------------------------------------------------------------------------


def test_the_cards_of_the_bench_hold_the_figures_of_the_steps() -> None:
    making = sapphire()
    bench = pages(drawn()["bench.pdf"])
    cards = {title: next(page for page in bench if page.startswith(title)) for title in (
        "What to heed", "Size and pattern", "Tree and casting", "Burnout", "Bench", "Stones and setting", "Marking",
        "As drawn and worn",
    )}  # fmt: skip
    assert making.pattern and making.tree and making.metal and making.burnout and making.bench and making.mark
    pattern, tree, recipe = making.pattern.result, making.tree.result, making.metal.result.recipe
    holds(
        cards["Size and pattern"], f"{number(pattern.scale_percent, 2)} %", number(pattern.set_inner_diameter_mm, 2),
        number(pattern.cast_inner_diameter_mm.value, 2), pattern.printer, "ISO 8653-53",
    )  # fmt: skip
    holds(
        cards["Tree and casting"], f"{number(tree.charge_g, 2)} g", dwt(tree.charge_g), f"{number(tree.powder_g, 0)} g",
        f"{number(tree.water_g, 0)} g", tree.crucible, f"{number(tree.melt_C, 0)} °C",
        *(part.material for part in recipe.parts), *(number(part.mass_g, 2) for part in recipe.parts),
        making.bench.result.quench[1:],
    )  # fmt: skip
    for hold in making.burnout.result.holds:
        holds(cards["Burnout"], hold.purpose[1:], number(hold.to_C, 0), number(hold.ramp_C_per_h, 0))
    order = [cards["Bench"].find(plain(task.title)) for task in making.bench.result.tasks]
    assert order == sorted(order)
    assert order[0] >= 0
    marks = making.mark.result.marks
    holds(cards["Marking"], marks.mark, *(one[1:] for one in (*marks.must, *marks.may, *marks.never)), marks.note)
    holds(cards["Stones and setting"], "sapphire, oval", "usually, clean and untreated", "7.00 × 5.00 × 3.30")


def test_the_offer_shows_every_part_of_the_price() -> None:
    making = sapphire()
    assert making.price is not None
    quote = making.price.result
    told = whole(drawn()["quote.pdf"])
    for line in quote.lines:
        holds(told, cash(line.amount))
    holds(
        told, cash(quote.total), cash(quote.deposit), cash(quote.balance), "16 January 2027", "within ± "
        f"{cash(quote.total_plus_minus)} GBP", "Natural sapphire, oval", "18 carat gold, 750‰",
        "Platinum 950 with ruthenium",
        cash(quote.offers[1].total), "−" + cash(-quote.offers[1].difference), quote.rounding, "Nothing is drawn yet",
    )  # fmt: skip
    assert "change before it can be made" not in told
    halted = Outcome("wear", None, (Remark("wear", Level.HALT, "thin", "Thin.", change="thicker"),))
    holds(whole(printed(replace(ring(), wear=halted))["quote.pdf"]), "must change before it can be made")


def test_many_alloys_are_told_in_rows() -> None:
    making = ring()
    assert making.price is not None
    quote = making.price.result
    offers = (
        *quote.offers,
        *(replace(quote.offers[1], title=f"alloy number {n}", total=Decimal(n + 7000)) for n in range(6)),
    )
    told = whole(
        printed(replace(making, price=replace(making.price, result=replace(quote, offers=offers))))["quote.pdf"]
    )
    holds(told, *(f"Alloy number {n}" for n in range(6)), *(str(n + 7000) for n in range(6)))


def test_the_certificate_discloses() -> None:
    making = sapphire()
    told = whole(drawn()["certificate.pdf"])
    assert making.pattern is not None
    holds(
        told, "18 carat gold, 750‰", "Au 75.0", "none in the alloy", "Natural sapphire, oval",
        "Treated: heat, as stated",
        "0.90 ct, as stated to us", measure(making.pattern.result.finished_mass_g, "g", 2), "Inscription: K to M",
        "It usually bears an ultrasonic bath", "no laboratory has examined them",
    )  # fmt: skip
    assert DEFERS not in told, "cautions of the bench are none of the client's"


def test_a_stone_that_bears_nothing_is_cared_for() -> None:
    making = ring()
    assert making.gems is not None
    from ringwright.terms.gems import Bears

    opal = replace(making.gems.result.stones[0], ultrasonic=Bears.NEVER, steam=Bears.RISKY, mohs=5.5)
    gems = replace(making.gems, result=replace(making.gems.result, stones=(opal,)))
    told = printed(replace(making, gems=gems))
    holds(
        whole(told["certificate.pdf"]), "Keep it out of an ultrasonic bath (centre)", "softer than the quartz in dust"
    )
    holds(whole(told["bench.pdf"]), "Ultrasonic bath: never", "Steam: risky")


def test_remarks_stand_worst_first_with_all_that_they_carry() -> None:
    making = ring()
    mild = Remark("wear", Level.HEED, "a", "Sharp inside.", 0.4, 0.8, "mm", "a book", "shank", None, "round it off")
    grave = Remark(
        "pour", Level.HALT, "b", "It will not fill.", 12.3, 20.0, "%", "a paper", "left claw", None, "a gate there"
    )
    outcome = Outcome("wear", None, (mild, grave, Remark("wear", Level.FINE, "c", "Weighs little.")))
    first = " ".join(pages(printed(replace(making, wear=outcome))["bench.pdf"])[:2])
    places = [first.find(one) for one in ("It will not fill.", "Sharp inside.", "Weighs little.")]
    assert places == sorted(places)
    assert places[0] > 0
    holds(first, "HALT", "HEED", "Do not make it so: 1 thing to change first.", "12.3 % found, limit 20.0 %", "a paper",
          "Pour: left claw", "A gate there", "0.40 mm found, limit 0.80 mm", "Wear: shank", "Round it off")  # fmt: skip
    calm = making.only("bench")
    holds(pages(printed(calm)["bench.pdf"])[0], "Nothing stands against it.")


def test_every_card_of_dangerous_work_has_its_cautions() -> None:
    bench = pages(drawn()["bench.pdf"])
    told = " ".join(bench)
    card = ""
    found: dict[str, str] = {}
    for page in bench:
        card = next(
            (
                t
                for t in ("Size and pattern", "Tree and casting", "Burnout", "Bench", "Stones", "Marking")
                if page.startswith(t)
            ),
            card,
        )
        found[card] = found.get(card, "") + page
    for title, words in {
        "Size and pattern": ("Uncured resin", "Wash solvent"),
        "Tree and casting": ("Silica dust", "Molten metal", "Metal fume", "Torch and gas", "Pickle"),
        "Burnout": ("Burnout smoke", "Sulfur dioxide", "Hot flask", "Silica dust"),
        "Bench": ("Filing and sanding dust", "Polishing wheel"),
        "Marking": ("Laser",),
    }.items():
        holds(found[title], *words, DEFERS)
    assert told.count(plain(DEFERS)) >= 5
    bare = whole(printed(replace(ring(), facts=None))["bench.pdf"])
    holds(bare, DEFERS)


@pytest.mark.parametrize("hour", [8, 10, 12, 14, 16, 18])
def test_the_kiln_is_lit_in_time(hour: int) -> None:
    making = sapphire()
    assert making.burnout is not None
    page = next(p for p in pages(drawn()["bench.pdf"]) if p.startswith("Burnout"))
    light = light_at(dt.datetime(2027, 6, 2, hour), making.burnout.result.total_h)
    when = {0: "the same day", 1: "the day before"}[2 - light.day]
    holds(page, f"{light.hour}:{light.minute:02d} {when}")


# ---- words that the law allows ---------------------------------------------------------------------------------


def test_a_grown_stone_is_never_called_by_its_bare_name() -> None:
    making = changed(
        with_stone(ring(), material="diamond", origin="real laboratory-grown", name="main"),
        market="us", title="Genuine diamond ring",
    )  # fmt: skip
    told = printed(making)
    for name in ("quote.pdf", "certificate.pdf"):
        words = whole(told[name]).casefold()
        assert "genuine" not in words
        assert "real" not in re.findall(r"[a-z]+", words)
        named = list(re.finditer("diamond", words))
        assert named
        assert all(words[: one.start()].endswith("laboratory-grown ") for one in named)
    holds(pages(told["bench.pdf"])[0] + pages(told["bench.pdf"])[1], "'real' must not be said", "Genuine diamond")
    assert "18 karat gold" in whole(told["certificate.pdf"])


def test_what_is_not_known_is_said_to_be_unknown() -> None:
    told = whole(printed(with_stone(ring(), origin="", treatment="unknown", stated_mass_ct=None))["certificate.pdf"])
    holds(told, "Sapphire, origin not stated", "Treatment not known; usual for this stone: heat, glass filling")
    contradiction = with_stone(ring(), material="laboratory-grown diamond", origin="natural")
    bench = whole(printed(contradiction)["bench.pdf"])
    holds(bench, "is laboratory-grown, its origin is said to be 'natural'")


def test_a_poor_alloy_is_never_called_by_its_metal_alone() -> None:
    making = changed(ring(), market="us")
    assert making.price is not None
    quote = making.price.result
    poor = replace(quote.offers[1], alloy="pt900-ir", title="platinum 900 with iridium")
    price = replace(making.price, result=replace(quote, offers=(quote.offers[0], poor)))
    told = whole(printed(replace(making, price=price))["quote.pdf"])
    holds(told, "900 platinum")
    assert "platinum 900" not in told.casefold()


# ---- that they stay the same, and are whole --------------------------------------------------------------------


def test_the_same_making_gives_the_same_bytes() -> None:
    again = papers.pdfs(replace(sapphire()), STAMP.replace(year=2031))
    assert again == drawn()
    assert set(again) == {"bench.pdf", "quote.pdf", "certificate.pdf"}
    other = papers.pdfs(changed(ring(), number="77"), STAMP)
    assert all(other[name] != again[name] for name in again)


def test_the_pages_are_sensible() -> None:
    for name, (least, most) in {"bench.pdf": (8, 13), "quote.pdf": (1, 2), "certificate.pdf": (1, 1)}.items():
        reader = PdfReader(io.BytesIO(drawn()[name]))
        assert least <= len(reader.pages) <= most, name
        for page in reader.pages:
            box = page.mediabox
            assert (round(float(box.width)), round(float(box.height))) == (595, 842), "A4"
        assert reader.metadata is not None
        assert "1-sapphire" in (reader.metadata.title or "")
        assert reader.metadata.creation_date is None, "no clock"


def fonts_of(reader: PdfReader) -> Iterator[Any]:
    for page in reader.pages:
        for font in page["/Resources"].get_object().get("/Font", {}).values():  # type: ignore[attr-defined]
            for inner in font.get_object().get("/DescendantFonts", [font]):
                yield inner.get_object()


def test_every_font_is_embedded() -> None:
    for name, data in drawn().items():
        found = list(fonts_of(PdfReader(io.BytesIO(data))))
        assert found, name
        for font in found:
            described = font["/FontDescriptor"].get_object()
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(described), f"{name}: {font['/BaseFont']}"
            assert "Libertinus" in font["/BaseFont"] or "DejaVu" in font["/BaseFont"]


@pytest.mark.parametrize(
    "step",
    [
        "ring",
        "finger",
        "gems",
        "metal",
        "piece",
        "setting",
        "pattern",
        "tree",
        "burnout",
        "bench",
        "mark",
        "price",
        "facts",
    ],
)
def test_a_step_may_be_absent(step: str) -> None:
    found = printed(ring().without(step))
    assert "bench.pdf" in found
    assert ("quote.pdf" in found) == (step != "price")
    assert ("certificate.pdf" in found) == (step != "metal")


def test_a_making_with_nothing_in_it_still_says_what_it_is() -> None:
    found = printed(ring().only())
    assert list(found) == ["bench.pdf"]
    (page,) = pages(found["bench.pdf"])
    holds(page, "1-sapphire", "Oval sapphire in four claws", "Nothing stands against it.")


def test_a_ring_without_stones_and_with_the_clients_own_metal() -> None:
    making = ring()
    order = replace(making.commission, stone=(), metal=MetalBrief(alloy="18k-3n", own_g={"two old rings": 8.0}))
    found = printed(replace(making.without("gems", "setting"), commission=order))
    holds(whole(found["certificate.pdf"]), "There is no stone in this ring.", "8.00 g of two old rings")
    holds(whole(found["quote.pdf"]), "Your own metal goes into this ring and into no other: 8.00 g of two old rings.")
    assert "Stones and setting" not in whole(found["bench.pdf"])


# ---- texts of others -------------------------------------------------------------------------------------------


def test_a_text_is_never_markup() -> None:
    making = with_stone(changed(ring(), title=NASTY, number="#1*["), name="*c_1* #x", origin="$natural$ #lorem(9)")
    found = printed(making)
    for name in ("quote.pdf", "certificate.pdf"):
        holds(whole(found[name]), NASTY, "#1*[", "*c_1* #x", "#lorem(9)")
    bench = whole(found["bench.pdf"])
    holds(bench, NASTY[:30], "#1*[", "*c_1* #x")
    assert "ipsum" not in bench
    before = {name: len(PdfReader(io.BytesIO(data)).pages) for name, data in drawn().items()}
    assert {name: len(PdfReader(io.BytesIO(data)).pages) for name, data in found.items()} == before


def test_letters_of_other_scripts_are_printed_or_told() -> None:
    found = printed(changed(ring(), title="金 ソラ для Ольга שלום Żółć 💍"))
    told = whole(found["quote.pdf"])
    holds(told, "[U+91D1] sora для Ольга", "Żółć [ring]", "U+91D1 (cjk unified ideograph-91d1): written [U+91D1]")
    assert "םולש" in told or "שלום" in told
    holds(whole(found["bench.pdf"]), "Letters that these papers do not have")
    assert "Letters that these papers" not in whole(drawn()["quote.pdf"])


def test_a_very_long_word_stays_on_the_page() -> None:
    found = printed(changed(ring(), title="Q" * 300))
    reader = PdfReader(io.BytesIO(found["certificate.pdf"]))
    right: list[float] = []

    def seen(words: str, _cm: Any, matrix: list[float], _font: Any, size: float) -> None:
        if "Q" in words:
            right.append(matrix[4] + 0.5 * size * len(words.strip("\u200b\n ")))

    for page in reader.pages:
        page.extract_text(visitor_text=seen)
    assert whole(found["certificate.pdf"]).replace(" ", "").count("Q") == 300
    assert max(right) < 595


def test_many_stones_of_a_kind_are_told_once() -> None:
    making = ring()
    assert making.gems is not None
    gem, brief = making.gems.result.stones[0], making.commission.stone[0]
    names = [f"stone-{n}" for n in range(24)]
    gems = replace(making.gems, result=replace(making.gems.result, stones=tuple(replace(gem, name=n) for n in names)))
    order = replace(making.commission, stone=tuple(replace(brief, name=n) for n in names))
    found = printed(replace(making, gems=gems, commission=order))
    bench = whole(found["bench.pdf"])
    holds(bench, *names, "stone-0 to stone-23, 24 alike")
    assert len(pages(found["bench.pdf"])) <= 14
    assert len(pages(found["certificate.pdf"])) <= 3


# ---- the press and the parts -----------------------------------------------------------------------------------


def paper(*cards: Card, pictures: dict[str, bytes] | None = None) -> Paper:
    return Paper("a test", "shop", "foot", ("right",), cards, pictures or {})


def test_what_typst_warns_of_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    import typst

    class Warned:
        message = "unknown font family"

    monkeypatch.setattr(typst, "compile_with_warnings", lambda *_a, **_k: (b"%PDF", [Warned()]))
    with pytest.raises(ComputingFault, match="unknown font family"):
        pdf(paper(Card("a", "", (text("b"),))))


def test_what_typst_refuses_is_a_fault() -> None:
    broken = {"kind": "image", "file": "no.svg", "width": 10, "alt": ""}
    with pytest.raises(ComputingFault, match="could not be printed"):
        pdf(paper(Card("a", "", (broken,)), pictures={"no.svg": b"<svg"}))


def test_a_table_has_a_cell_for_each_column() -> None:
    with pytest.raises(ValueError, match="as many cells"):
        table([Column("a"), Column("b")], [["only one"]])


def test_any_result_is_shown_by_its_descriptions() -> None:
    told = dict(figure_pairs(RESULT))
    assert told == {
        "Mass": "4.20\u00a0±\u00a00.10\u00a0g", "Price": "12.50", "Way": "down", "Where": "0.0, 0.0, 0.3\u00a0mm",
        "Day": "1 April 2027", "Sound": "yes",
    } | {"Where": "0.00, 0.00, 0.33\u00a0mm"}  # fmt: skip
    page = whole(pdf(paper(Card("Fired", "", tuple(result_blocks("All", RESULT))))))
    holds(
        page,
        "Mass",
        "4.20 ± 0.10 g",
        "Holds",
        "Where to, °C",
        "How long, h",
        "150",
        "730",
        "2.0",
        "Shares",
        "Au",
        "75.0 %",
    )


def test_a_step_that_no_card_knows_is_printed_whole() -> None:
    told = whole(printed(replace(ring(), pour=Outcome("pour", RESULT)))["bench.pdf"])
    for one in figures_of(RESULT):
        if one.name not in ("lost_g", "safety"):
            holds(told, one.about.help)
