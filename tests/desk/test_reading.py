"""What people write is read with its units, and every mistake is told: file, line, field, what would be right."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk._fields import slots
from ringwright.desk._units import _EXAMPLES
from ringwright.desk.reading import commission_in, located, read_commission, workshop_in
from ringwright.terms.commission import Commission, Owner
from ringwright.terms.mistake import BadInput, bad
from ringwright.terms.workshop import StockKind, Workshop
from tests.desk.texts import COMMISSION, WORKSHOP


def told(text: str, today: dt.date | None = None) -> list[str]:
    with pytest.raises(BadInput) as fault:
        commission_in(text, "a.commission.toml", today)
    return [str(mistake) for mistake in fault.value.mistakes]


def told_of_workshop(text: str) -> list[str]:
    with pytest.raises(BadInput) as fault:
        workshop_in(text, "workshop.toml")
    return [str(mistake) for mistake in fault.value.mistakes]


def line_of(text: str, part: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if part in line)


def test_a_commission_is_read_with_its_units() -> None:
    found = commission_in(COMMISSION, "a.toml")
    stone = found.stone[0]
    assert found.commission.due == dt.date(2027, 4, 30)
    assert stone.width_mm == pytest.approx(5.08, abs=1e-12)
    assert stone.stated_mass_ct == 1.31
    assert stone.owner is Owner.CLIENT
    assert stone.seat is not None
    assert stone.seat.at_mm == (0.0, 11.2, 0.0)
    assert stone.seat.turn_deg == 90.0
    assert found.price.budget == Decimal(2400)
    assert found.price.compare == ("9k-yellow", "pt950-ru")
    assert found.starter is not None
    assert found.starter.thickness_mm == 1.8


def test_a_workshop_is_read_with_its_units() -> None:
    found = workshop_in(WORKSHOP, "workshop.toml")
    assert found.fine_price[0].per_g == Decimal("61.20")
    assert found.printer[0].plate_length_mm == 120
    assert found.printer[0].layer_mm == 0.025
    assert found.printer[0].layer_s == 7
    assert found.kiln[0].max_C == pytest.approx(982.2222, abs=1e-3)
    assert found.kiln[0].max_ramp_C_per_h == 360
    assert found.kiln[0].spread_C == pytest.approx(10), "18 °F more is 10 °C more"
    assert found.stock[0].kind is StockKind.FINE
    assert found.stock[0].mass_g == pytest.approx(62.2069536, abs=1e-6)
    assert found.stock[0].composition["Au"] == pytest.approx(999.9)
    assert found.hours == {"polish": 0.75}


@pytest.mark.parametrize(
    ("old", "new", "field", "says"),
    [
        ('length = "7 mm"', "length = 7", "stone[1].length", '7 has no unit; write "7 mm"'),
        ('length = "7 mm"', 'length = "7"', "stone[1].length", "'7' has no unit; write \"7 mm\""),
        ('length = "7 mm"', 'length = "7 ct"', "stone[1].length", "'7 ct' is not in mm"),
        ('length = "7 mm"', 'length = "7,2 mm"', "stone[1].length", 'write "7.2 mm"'),
        ('length = "7 mm"', 'length = "7 furlings"', "stone[1].length", "'furlings' is not a known unit"),
        ('length = "7 mm"', 'length = "0 mm"', "stone[1].length", "write more than 0 mm"),
        ('length = "7 mm"', 'length = "-7 mm"', "stone[1].length", "write more than 0 mm"),
        ('length = "7 mm"', 'length = "1e999 mm"', "stone[1].length", "too large"),
        ('length = "7 mm"', "length = nan", "stone[1].length", "has no unit"),
        ('length = "7 mm"', 'length_mm = "7 mm"', "stone[1].length_mm", 'write length = "1.9 mm"'),
        ('length = "7 mm"', 'lenght = "7 mm"', "stone[1].lenght", "unknown field; did you mean 'length'?"),
        ('length = "7 mm"\n', "", "stone[1].length", "is missing; write length ="),
        ('stated_mass = "1.31 ct"', 'stated_mass = "0 ct"', "stone[1].stated_mass", "write more than 0 ct"),
        ('stated_mass = "1.31 ct"', 'stated_mass = "1 oz"', "stone[1].stated_mass", "ozt"),
        ('owner = "client"', 'owner = "Cleint"', "stone[1].owner", "did you mean 'client'?"),
        ('owner = "client"', 'cost = "-5"', "stone[1].cost", "write at least 0 GBP"),
        ('owner = "client"', 'cost = "1,200.00"', "stone[1].cost", 'write "12.50" or "12.50 GBP"'),
        ('owner = "client"', 'cost = "12 USD"', "stone[1].cost", "not in GBP"),
        ('owner = "client"', 'table = "120 %"', "stone[1].table", "write less than 100 %"),
        ('"0, 11.2, 0 mm"', '"0, 11.2 mm"', "stone[1].seat.at", 'has 2 numbers; write "0, 11.2, 0 mm"'),
        ('"0, 11.2, 0 mm"', '"0, 11.2, 0"', "stone[1].seat.at", 'write "0, 11.2, 0 mm"'),
        ('"0, 11.2, 0 mm"', "[0, 11.2, 0]", "stone[1].seat.at", 'write "0, 11.2, 0 mm"'),
        ('"0, 1, 0"', '"0, 0, 0"', "stone[1].seat.facing", "has no direction"),
        ('shape = "solitaire"', 'shape = "solitare"', "starter.shape", "did you mean 'solitaire'?"),
        ("claws = 4", "claws = 4.5", "starter.claws", "not a whole number"),
        ("claws = 4", "claws = 1", "starter.claws", "write at least 2"),
        ("claws = 4", "[model]\nfile = 'a.stl'", "starter", "stands beside [model]"),
        ('[starter]\nshape = "solitaire"\nclaws = 4\n', "", "", "nothing says what the ring looks like"),
        ('size = "M"', 'size = "M"\ninner_diameter = "17 mm"', "finger", "both a size and a diameter"),
        ('size = "M"\nsystem = "uk"\n', "", "finger", "neither a size nor a diameter"),
        ('system = "uk"', 'inside = "round"', "finger.inside", "write one of flat, comfort"),
        ('system = "uk"\n', "", "finger.system", "is missing"),
        ('currency = "GBP"', 'currency = "pounds"', "commission.currency", "three capital letters"),
        ('number = "2027-014"', "number = 14", "commission.number", 'write "14"'),
        ('title = "Oval sapphire ring"', 'title = " "', "commission.title", "is empty"),
        ('title = "Oval sapphire ring"', 'title = "bell \\u0007"', "commission.title", "cannot be printed"),
        ("due = 2027-04-30", 'due = "30.4.2027"', "commission.due", "write it as year-month-day"),
        ('budget = "2400"', 'budget = "0"', "price.budget", "write more than 0 GBP"),
        ('compare = ["9k-yellow", "pt950-ru"]', 'compare = "9k-yellow"', "price.compare", "is not a list"),
        ('compare = ["9k-yellow", "pt950-ru"]', 'compare = ["9k", 5]', "price.compare[2]", 'write "5"'),
        ('[metal]\nalloy = "18k-3n"', "", "metal", "is missing; write [metal] with alloy"),
        ('[metal]\nalloy = "18k-3n"', 'metal = "18k-3n"', "metal", "is not a table"),
    ],
)
def test_each_mistake_is_one_clear_sentence(old: str, new: str, field: str, says: str) -> None:
    assert old in COMMISSION
    text = COMMISSION.replace(old, new)
    if "inside" in new:
        text = COMMISSION.replace(old, f"{old}\n{new}")
    if new.startswith("metal ="):  # a bare key must stand before every heading
        text = new + "\n" + COMMISSION.replace(old, "")
    (one,) = told(text)
    assert f": {field}: " in one or not field
    assert one.startswith("a.commission.toml")
    assert says in one
    assert "\n" not in one


def test_the_line_is_told() -> None:
    text = COMMISSION.replace('length = "7 mm"', "length = 7")
    assert told(text) == [
        f'a.commission.toml:{line_of(text, "length = 7")}: stone[1].length: 7 has no unit; write "7 mm"'
    ]
    text = COMMISSION.replace('"90 deg"', "90")
    assert told(text)[0].startswith(f"a.commission.toml:{line_of(text, 'seat = ')}: stone[1].seat.turn: ")


def test_all_mistakes_are_told_at_once_in_the_order_of_the_lines() -> None:
    text = (
        COMMISSION.replace('length = "7 mm"', "length = 7")
        .replace('system = "uk"', 'sistem = "uk"')
        .replace("due = 2027-04-30", "due = 2020-01-01")
        .replace("claws = 4", "claws = 0")
    )
    found = told(text, dt.date(2027, 1, 1))
    fields = [one.split(": ")[1] for one in found]
    assert fields == ["commission.due", "finger.system", "finger.sistem", "stone[1].length", "starter.claws"]


def test_a_promised_day_that_is_past_is_refused_only_where_today_is_told() -> None:
    today = dt.date(2027, 5, 1)
    (one,) = told(COMMISSION, today)
    assert one.endswith("commission.due: the promised day 2027-04-30 is past; write 2027-05-01 or a later day")
    commission_in(COMMISSION, "a.toml")
    commission_in(COMMISSION, "a.toml", dt.date(2027, 4, 30))


def test_two_stones_of_one_name_are_refused() -> None:
    head = COMMISSION.index("[[stone]]")
    tail = COMMISSION.index("[starter]")
    text = COMMISSION[:tail] + COMMISSION[head:tail] + COMMISSION[tail:]
    (one,) = told(text)
    assert "stone[2].name: 'centre' is there twice" in one


def test_what_is_no_toml_is_told_with_its_line() -> None:
    (one,) = told('[commission]\nnumber = "1\n')
    assert one.startswith("a.commission.toml:2: not TOML: ")


@pytest.mark.parametrize("text", ["", " \n\n"])
def test_an_empty_file(text: str) -> None:
    (one,) = told(text)
    assert one.startswith("a.commission.toml: the file is empty; write at least [commission]")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    cases: dict[str, bytes] = {
        "latin.toml": "[commission]\ntitle = 'é'".encode("latin-1"),
        "long.toml": b"#" * 3_000_000,
    }
    for name, data in cases.items():
        (tmp_path / name).write_bytes(data)
    for name, says in {
        "latin.toml": "is not a text in UTF-8",
        "long.toml": "is too long",
        "none.toml": "there is no such file",
        "": "is a folder",
    }.items():
        with pytest.raises(BadInput, match=says):
            read_commission(tmp_path / name)


@pytest.mark.parametrize(
    ("old", "new", "field", "says"),
    [
        ('hour_rate = "45.00"', 'hour_rate = "-45"', "shop.hour_rate", "write at least 0 GBP"),
        ('hour_rate = "45.00"', 'hour_rate = "45"\nmargin = "100 %"', "shop.margin", "write less than 100 %"),
        ('hour_rate = "45.00"', 'hour_rate = "45"\noffer_days = 0', "shop.offer_days", "write at least 1"),
        ('per_g = "61.20 GBP"', 'per_g = "0"', "fine_price[1].per_g", "write more than 0 GBP"),
        ('layer_time = "7 s"', 'layer_s = "7 s"', "printer[1].layer_s", "write layer_time ="),
        ('layer_time = "7 s"', 'layer_time = "7"', "printer[1].layer_time", 'write "7 s"'),
        ('mass = "2 ozt"', 'mass = "-1 g"', "stock[1].mass", "write at least 0 g"),
        ('kind = "fine metal"', 'kind = "fine"', "stock[1].kind", "write one of fine metal, master alloy"),
        ('Ag = "0.1 permille"', 'Ag = "5 %"', "stock[1].composition", "adds up to 1049.9 permille"),
        ('Ag = "0.1 permille"', "Ag = 0.1", "stock[1].composition.Ag", 'write "0.1 permille"'),
        ('diameter = "80 mm"', 'diameter = "80 mm"\nperforated = "yes"', "flask[1].perforated", "write true or false"),
        ("[[flask]]", "[flask]", "flask", "is not a list; write [[flask]]"),
        ("[hours]", "[shopp]\n[hours]", "shopp", "did you mean 'shop'?"),
    ],
)
def test_each_mistake_in_a_workshop(old: str, new: str, field: str, says: str) -> None:
    assert old in WORKSHOP
    (one,) = told_of_workshop(WORKSHOP.replace(old, new))
    assert f": {field}: " in one
    assert says in one


def test_a_mistake_found_by_a_step_gets_its_line() -> None:
    found = located(bad("metal.alloy", "no alloy is called '18k-3n'", "known: x"), Path("b/a.toml"), COMMISSION)
    assert str(found) == f"a.toml:{line_of(COMMISSION, 'alloy =')}: metal.alloy: no alloy is called '18k-3n'; known: x"
    found = located(bad("stone[1].cut", "unknown", "known: x"), Path("a.toml"), COMMISSION)
    assert str(found).startswith(f"a.toml:{line_of(COMMISSION, 'cut =')}: stone[1].cut")
    for where, part in (("stone 'centre', material", "material ="), ("stone 'centre', origin", "[[stone]]")):
        found = located(bad(where, "unknown", ""), Path("a.toml"), COMMISSION)
        assert str(found).startswith(f"a.toml:{line_of(COMMISSION, part)}: stone[1]")
    for where, what, part in (("", "no alloy is called '18k-3n'", "alloy ="), ("size", "is none", 'size = "M"')):
        found = located(bad(where, what, ""), Path("a.toml"), COMMISSION)
        assert str(found).startswith(f"a.toml:{line_of(COMMISSION, part)}: ")
    assert str(located(bad("", "no 'uk' and no 'M'", ""), Path("a.toml"), COMMISSION)) == "no 'uk' and no 'M'"
    assert str(located(bad("stone 'other'", "unknown", ""), Path("a.toml"), COMMISSION)) == "stone 'other': unknown"
    assert str(located(bad("model", "is no mesh", ""), Path("a.toml"), COMMISSION)) == "model: is no mesh"


def kinds_below(kind: Any) -> set[Any]:
    import dataclasses
    import typing

    found = {kind}
    for slot in slots(kind):
        for inner in (slot.hint, *typing.get_args(slot.hint)):
            if dataclasses.is_dataclass(inner):
                found |= kinds_below(inner)
    return found


@pytest.mark.parametrize(
    "kind", sorted(kinds_below(Commission) | kinds_below(Workshop), key=lambda kind: kind.__name__)
)
def test_every_field_of_the_input_files_is_described_and_has_a_key_of_its_own(kind: Any) -> None:
    for slot in slots(kind):
        import dataclasses
        import typing

        inner = [slot.hint, *typing.get_args(slot.hint)]
        assert slot.about.help or any(dataclasses.is_dataclass(one) for one in inner), f"{kind.__name__}.{slot.name}"
        assert slot.about.unit in {"", "money", *_EXAMPLES}, f"{kind.__name__}.{slot.name}: no example of its unit"
