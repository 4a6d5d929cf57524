"""Text inside the band: where it lies, what fits, the letters, and the drawings for machines."""

from __future__ import annotations

import io
import math
import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps.mark import layout, marking, rows_of, to_dxf, to_svg
from ringwright.steps.mark._letters import drawn, missing
from ringwright.terms.commission import MarkBrief
from ringwright.terms.mark import Layout, MarkPlace, TextRun
from ringwright.terms.mistake import BadInput
from ringwright.terms.remark import Level
from tests.tables import tables

ROWS = rows_of(
    tables("markets", "finenesses", "mark_exemptions", "mark_tolerances", "mark_limits", "wordings", "letters")
)
PLACE = MarkPlace(inner_diameter_mm=17.2, band_width_mm=4.0, wall_mm=1.5)
OPEN = MarkPlace(inner_diameter_mm=17.2, band_width_mm=4.0, open_from_deg=60, open_to_deg=120)
RUNS = (TextRun(text="750", kind="mark"), TextRun(text="RW", kind="mark"), TextRun(text="Forever"))
LENGTH = math.pi * 17.2


def laid(place: MarkPlace = PLACE, height: float = 1.2, runs: tuple[TextRun, ...] = RUNS) -> Layout:
    return layout(runs, place, height, ROWS)


def points_of(svg: str, kind: str) -> list[tuple[float, float]]:
    tree = ElementTree.fromstring(svg)
    data = [p.attrib["d"] for p in tree.iter("{http://www.w3.org/2000/svg}path") if p.attrib["class"] == kind]
    numbers = [float(n) for d in data for n in re.findall(r"-?\d+\.?\d*", d)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def test_marks_stand_beside_the_sizing_area_and_the_inscription_in_the_middle_of_the_rest() -> None:
    found = laid()
    assert found.fits
    marks = [run for run in found.runs if run.kind == "mark"]
    (words,) = [run for run in found.runs if run.kind == "inscription"]
    assert marks[0].start_mm == pytest.approx(3.5)
    assert marks[1].start_mm == pytest.approx(marks[0].end_mm + 1.0)
    before, after = words.start_mm - marks[1].end_mm - 1.0, LENGTH - 3.5 - words.end_mm
    assert before == pytest.approx(after)


@given(
    st.floats(13, 23),
    st.floats(2.0, 9.0),
    st.floats(0.5, 1.6),
    st.lists(st.text("ABCgjÅŻ1 2", min_size=1, max_size=14).filter(str.strip), min_size=1, max_size=3),
    st.booleans(),
)
def test_what_fits_keeps_off_everything(
    diameter: float, width: float, height: float, texts: list[str], opened: bool
) -> None:
    place = MarkPlace(
        inner_diameter_mm=diameter,
        band_width_mm=width,
        open_from_deg=50 if opened else None,
        open_to_deg=130 if opened else None,
    )
    runs = tuple(TextRun(text=text, kind="mark" if i == 0 else "inscription") for i, text in enumerate(texts))
    found = layout(runs, place, height, ROWS)
    if not found.fits:
        assert found.runs == () and (found.too_long_mm > 0 or found.too_high_mm > 0)
        assert found.height_that_fits_mm < height
        if found.height_that_fits_mm > 0.01:
            assert layout(runs, place, found.height_that_fits_mm * 0.999, ROWS).fits
        return
    length = math.pi * diameter
    placed = sorted(found.runs, key=lambda run: run.start_mm)
    assert len(placed) == len(runs)
    assert placed[0].start_mm >= 3.5 - 1e-9 and placed[-1].end_mm <= length - 3.5 + 1e-9
    for one, other in pairwise(placed):
        assert other.start_mm >= one.end_mm + 1.0 - 1e-9
    if opened:
        for run in placed:
            assert (
                run.end_mm <= (found.open_from_mm or 0) - 1 + 1e-9 or run.start_mm >= (found.open_to_mm or 0) + 1 - 1e-9
            )
    for run in placed:
        drawing = drawn(run.text, ROWS.letters)
        assert run.base_mm + drawing.low * height >= 0.3 - 1e-9
        assert run.base_mm + drawing.high * height <= width - 0.3 + 1e-9
        assert run.end_mm - run.start_mm == pytest.approx(drawing.width * height)


def test_too_long_says_by_how_much() -> None:
    """One run alone: what it is too long is its length less the room."""
    text = "M" * 60
    found = laid(runs=(TextRun(text=text),))
    room = LENGTH - 7.0
    assert not found.fits
    assert found.too_long_mm == pytest.approx(drawn(text, ROWS.letters).width * 1.2 - room, abs=1e-6)
    assert found.height_that_fits_mm == pytest.approx(room / drawn(text, ROWS.letters).width, abs=1e-6)


def test_too_high_says_by_how_much() -> None:
    found = laid(MarkPlace(inner_diameter_mm=17.2, band_width_mm=1.5), 1.2, (TextRun(text="Hg"),))
    drawing = drawn("Hg", ROWS.letters)
    assert found.too_high_mm == pytest.approx((drawing.high - drawing.low) * 1.2 - 0.9)
    assert found.height_that_fits_mm == pytest.approx(0.9 / (drawing.high - drawing.low), abs=1e-6)


def test_a_reserved_place_that_no_height_of_letters_makes_fit() -> None:
    run = TextRun(text="marks of the assay office", kind="reserved", reserve_mm=100.0)
    found = laid(runs=(run,))
    assert not found.fits and found.height_that_fits_mm == 0
    assert found.too_long_mm == pytest.approx(100 - (LENGTH - 7))


def test_the_openings_of_the_head_are_kept_free() -> None:
    found = laid(OPEN)
    assert found.open_from_mm == pytest.approx(150 / 360 * LENGTH)
    assert found.open_to_mm == pytest.approx(210 / 360 * LENGTH)


def test_where_a_run_lies_on_the_ring() -> None:
    """The reader's arc runs from the bottom (-90 degrees) toward -x, so over 180 degrees to the head."""
    found = laid(runs=(TextRun(text="750", kind="mark"),))
    (run,) = found.runs
    assert 180 < run.middle_deg < 270
    x, y, z = run.middle_mm
    assert math.hypot(x, y) == pytest.approx(8.6) and x < 0 and y < 0 and abs(z) < 0.01
    assert math.degrees(math.atan2(y, x)) % 360 == pytest.approx(run.middle_deg)


def test_svg_shows_what_was_laid_out() -> None:
    found = laid()
    svg = to_svg(found, ROWS)
    tree = ElementTree.fromstring(svg)
    assert tree.attrib["width"].endswith("mm") and float(tree.attrib["width"][:-2]) == pytest.approx(LENGTH, abs=1e-3)
    assert [t.text for t in tree.iter("{http://www.w3.org/2000/svg}title")][1:] == ["750", "RW", "Forever"]
    words = points_of(svg, "inscription")
    run = found.runs[-1]
    assert min(x for x, _ in words) == pytest.approx(run.start_mm, abs=1e-3)
    assert max(x for x, _ in words) == pytest.approx(run.end_mm, abs=1e-3)
    assert max(y for _, y in words) == pytest.approx(4.0 - run.base_mm, abs=1e-3)
    assert min(y for _, y in words) == pytest.approx(4.0 - run.base_mm - 1.2, abs=1e-3)


def test_mirrored_is_the_same_turned_left_to_right() -> None:
    found = laid()
    plain, turned = (points_of(to_svg(found, ROWS, mirrored=m), "mark") for m in (False, True))
    assert [LENGTH - x for x, _ in plain] == pytest.approx([x for x, _ in turned], abs=2e-3)
    assert [y for _, y in plain] == [y for _, y in turned]


def test_outlines_cover_the_lines_and_no_more() -> None:
    """The outline of a straight stroke of length l and width w holds l w + pi w²/4."""
    found = laid(height=2.0, runs=(TextRun(text="I"),))
    outline = points_of(to_svg(found, ROWS, outlined=True), "inscription")
    area = abs(sum(x * b - a * y for (x, y), (a, b) in zip(outline, [*outline[1:], outline[0]], strict=True)) / 2)
    assert area == pytest.approx(2.0 * 0.15 + math.pi * 0.15**2 / 4, rel=5e-3)


def test_text_is_escaped() -> None:
    svg = to_svg(laid(runs=(TextRun(text="A & B"),)), ROWS)
    assert "A &amp; B" in svg
    ElementTree.fromstring(svg)


@pytest.mark.parametrize("mirrored", [False, True])
def test_dxf_reads_back_in_mm(mirrored: bool) -> None:
    import ezdxf
    from ezdxf.filemanagement import read

    found = laid()
    text = to_dxf(found, ROWS, mirrored=mirrored)
    document = read(io.StringIO(text))
    assert document.units == ezdxf.units.MM  # type: ignore[attr-defined]
    assert not document.audit().has_errors
    cut = [e for e in document.modelspace() if e.dxf.layer == "ENGRAVE"]
    assert len(cut) == sum(len(drawn(run.text, ROWS.letters).lines) for run in found.runs)
    xs = [x for e in cut for x, _ in e.get_points("xy")]  # type: ignore[attr-defined]
    low, high = found.runs[0].start_mm, found.runs[-1].end_mm
    if mirrored:
        low, high = LENGTH - high, LENGTH - low
    assert min(xs) == pytest.approx(low, abs=1e-5) and max(xs) == pytest.approx(high, abs=1e-5)


def test_the_drawings_are_the_same_each_time() -> None:
    found = laid()
    assert to_dxf(found, ROWS) == to_dxf(found, ROWS)
    assert to_svg(found, ROWS) == to_svg(found, ROWS)
    assert not re.search(r"20[2-9]\d-\d\d-\d\d", to_dxf(found, ROWS)), "no date of the day"


@pytest.mark.parametrize("row", [row for row in ROWS.letters if row.path], ids=lambda row: f"U+{ord(row.key):04X}")
def test_every_letter_stays_in_its_box(row: object) -> None:
    key, width = row.key, row.glyph_width / 10  # type: ignore[attr-defined]
    if 0x300 <= ord(key) < 0x370:
        drawing = drawn(f"o{key}", ROWS.letters)
        assert drawing.high <= 1.2 and drawing.low >= -0.35
        return
    drawing = drawn(key, ROWS.letters)
    xs = [x for line in drawing.lines for x, _ in line]
    assert drawing.width == pytest.approx(width)
    assert min(xs) == pytest.approx(0, abs=0.001) and max(xs) == pytest.approx(width, abs=0.001)
    assert drawing.low >= -0.36 and drawing.high <= 1.25
    if key.isdigit() or (key.isascii() and key.isupper() and key != "Q"):
        assert drawing.low == pytest.approx(0, abs=0.02) and drawing.high == pytest.approx(1, abs=0.02)


def test_the_alphabet_writes_the_languages_of_its_markets() -> None:
    for text in (
        "The quick brown fox jumps over the lazy dog, 1234567890!",
        "Zwölf Boxkämpfer jagen Viktor quer über den großen Sylter Deich",
        "Voix ambiguë d'un cœur qui au zéphyr préfère les jattes de kiwis, çà et là",
        "Høvdingens kjære squaw får litt pizza i Mexico by",
        "Törkylempijävongahdus Åland",
        "Pchnąć w tę łódź jeża lub ośm skrzyń fig",
        "Jó foxim és don Quijote húszwattos lámpánál ülve egy pár bűvös cipőt készít",
        "Muito obrigado, coração; mañana señor ¿".rstrip("¿ "),
    ):
        assert missing(text, ROWS.letters) == (), text


def test_accents_sit_higher_over_tall_letters() -> None:
    assert drawn("É", ROWS.letters).high > drawn("é", ROWS.letters).high > drawn("e", ROWS.letters).high
    assert drawn("ç", ROWS.letters).low == drawn("Ç", ROWS.letters).low < 0


def test_composed_and_decomposed_text_is_the_same() -> None:
    assert drawn("Zoe\u0308", ROWS.letters) == drawn("Zoë", ROWS.letters)


def little_font() -> bytes:
    """A font with H (a box of 700 high) and o (a quadratic curve), made here."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    def pen(draw: list[tuple[float, float]], curve: bool = False) -> object:
        p = TTGlyphPen(None)
        if curve:
            p.qCurveTo(*draw, None)
        else:
            p.moveTo(draw[0])
            for point in draw[1:]:
                p.lineTo(point)
        p.closePath()
        return p.glyph()

    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder([".notdef", "H", "o"])
    builder.setupCharacterMap({ord("H"): "H", ord("o"): "o"})
    box = [(100, 0), (100, 700), (600, 700), (600, 0)]
    builder.setupGlyf({
        ".notdef": pen(box), "H": pen(box), "o": pen([(100, 0), (100, 500), (600, 500), (600, 0)], curve=True),
    })  # fmt: skip
    builder.setupHorizontalMetrics({".notdef": (700, 100), "H": (700, 100), "o": (650, 100)})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Little", "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800, sCapHeight=700)
    builder.setupPost()
    stream = io.BytesIO()
    builder.save(stream)
    return stream.getvalue()


def test_a_font_of_ones_own_is_scaled_by_its_capitals() -> None:
    drawing = drawn("HH", ROWS.letters, little_font())
    assert drawing.closed and drawing.width == pytest.approx(2.0)
    assert (drawing.low, drawing.high) == (0.0, pytest.approx(1.0))
    xs = [x for x, _ in drawing.lines[1]]
    assert min(xs) == pytest.approx(800 / 700) and max(xs) == pytest.approx(1300 / 700)


def test_curves_of_a_font_are_followed() -> None:
    """Four off-curve points of a rectangle: the curve touches the middle of each side, and stays inside."""
    (line,) = drawn("o", ROWS.letters, little_font()).lines
    xs, ys = [x * 700 for x, _ in line], [y * 700 for _, y in line]
    assert (min(xs), max(xs)) == (pytest.approx(100), pytest.approx(600))
    assert (min(ys), max(ys)) == (pytest.approx(0, abs=1e-9), pytest.approx(500))
    corner = min(math.hypot(x - 100, y) for x, y in zip(xs, ys, strict=True))
    assert corner > 50, "the corners are rounded"


def test_a_font_goes_through_to_the_drawings() -> None:
    font = little_font()
    found = layout((TextRun(text="HoH"),), PLACE, 1.0, ROWS, font)
    assert 'fill-rule="evenodd"' in to_svg(found, ROWS, font=font)
    assert to_dxf(found, ROWS, font=font).count("LWPOLYLINE") >= 3


@pytest.mark.parametrize(
    ("text", "font", "sentence"),
    [
        ("金", None, "the engraving alphabet has no '金'"),
        ("A\nB", None, "the engraving alphabet has no '\\n'"),
        ("Hx", b"font", "the font has no 'x'"),
        ("H", b"no font at all", "the font file cannot be read"),
        ("H", b"", "the font file cannot be read"),
    ],
)
def test_what_cannot_be_drawn(text: str, font: bytes | None, sentence: str) -> None:
    data = little_font() if font == b"font" else font
    with pytest.raises(BadInput) as caught:
        layout((TextRun(text=text),), PLACE, 1.0, ROWS, data)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("place", "height", "sentence"),
    [
        (MarkPlace(inner_diameter_mm=0, band_width_mm=4), 1.0, "mark.inner_diameter: 0 mm is no length"),
        (MarkPlace(inner_diameter_mm=17, band_width_mm=-1), 1.0, "mark.band_width: -1 mm is no length"),
        (MarkPlace(inner_diameter_mm=17, band_width_mm=4), math.nan, "mark.height: nan mm is no length"),
        (MarkPlace(inner_diameter_mm=17, band_width_mm=4, open_from_deg=60), 1.0, "only one end"),
        (
            MarkPlace(inner_diameter_mm=17, band_width_mm=4, open_from_deg=120, open_to_deg=60),
            1.0,
            "openings reach over -60 degrees",
        ),
    ],
)
def test_a_place_that_is_none(place: MarkPlace, height: float, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        layout(RUNS, place, height, ROWS)
    assert sentence in str(caught.value)


def test_an_empty_run() -> None:
    with pytest.raises(BadInput, match="a run of text is empty"):
        layout((TextRun(text=" "),), PLACE, 1.0, ROWS)


def kinds_of(
    brief: MarkBrief, market: str, mass: float = 5.0, place: MarkPlace | None = PLACE
) -> list[tuple[str, str]]:
    outcome = marking(brief, market, "gold", 750, mass, place, ROWS)
    found = outcome.result.layout
    return [(run.kind, run.text) for run in found.runs] if found else []


def test_the_whole_step_lays_out_what_the_market_asks() -> None:
    brief = MarkBrief(text="Forever", sponsor="RW")
    assert kinds_of(brief, "ch") == [("mark", "750"), ("mark", "RW"), ("inscription", "Forever")]
    assert kinds_of(brief, "us") == [("mark", "18K"), ("mark", "RW"), ("inscription", "Forever")]
    assert kinds_of(brief, "uk") == [("reserved", "marks of the assay office"), ("inscription", "Forever")]
    assert kinds_of(brief, "fr", 2.0)[0][0] == "reserved"  # the maker's mark stays a duty
    assert kinds_of(brief, "fi", 0.9) == [("mark", "750"), ("mark", "RW"), ("inscription", "Forever")]
    assert kinds_of(MarkBrief(text="Forever"), "nl", 0.9) == [("inscription", "Forever")]
    assert kinds_of(MarkBrief(), "nl", 0.9) == []


def test_without_a_place_the_law_alone_is_told() -> None:
    outcome = marking(MarkBrief(text="Forever"), "uk", "gold", 750, 5.0, None, ROWS)
    assert outcome.result.layout is None and outcome.result.marks.fineness_permille == 750


def test_an_inscription_that_is_too_long_stops_and_a_shorter_one_does_not() -> None:
    long = marking(MarkBrief(text="M" * 40, sponsor="RW"), "uk", "gold", 750, 5.0, PLACE, ROWS)
    told = next(r for r in long.remarks if r.kind == "text-too-long")
    assert told.level is Level.HALT and told.figure is not None and told.figure > 0
    short = marking(MarkBrief(text="M" * 10, sponsor="RW"), "uk", "gold", 750, 5.0, PLACE, ROWS)
    assert {r.kind for r in short.remarks} & {"text-too-long", "text-too-high"} == set()
    height = float(told.change.split(" mm")[0].removeprefix("Letters of "))
    lower = MarkBrief(text="M" * 40, sponsor="RW", height_mm=height - 0.01)
    assert not [r for r in marking(lower, "uk", "gold", 750, 5.0, PLACE, ROWS).remarks if r.level is Level.HALT]


def test_letters_too_high_for_the_band_stop() -> None:
    narrow = MarkPlace(inner_diameter_mm=17.2, band_width_mm=1.6)
    outcome = marking(MarkBrief(text="Hope", sponsor="RW", height_mm=1.2), "uk", "gold", 750, 5.0, narrow, ROWS)
    assert [r.level for r in outcome.remarks if r.kind == "text-too-high"] == [Level.HALT]
