"""From what a client says to millimetres, and from millimetres to every system's nearest size.

A system is a straight line (:class:`~ringwright.terms.finger.SizeSystemFact`); nothing of it stands here.
Lengths are in mm and mean the inner circumference unless the name says diameter.
"""

from __future__ import annotations

import difflib
import math
import re
from fractions import Fraction

from ringwright.terms.facts import used
from ringwright.terms.finger import SizeLabel, SizeLabels, SizeRows, SizeSystemFact
from ringwright.terms.mistake import BadInput, bad

_SIGNS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⁄": "/"}
_NUMBER = re.compile(r"(?P<whole>\d{1,6}(?:\.\d{1,9})?)?(?:[ -]*(?P<over>\d)/(?P<under>\d))?")
_LETTER = re.compile(r"(?P<letter>[A-Z])(?: *\+ *(?P<beyond>\d{1,2}))?(?: *(?P<half>1/2|\.50?))?")
_ROUNDING = 1e-9


def system_of(name: str, rows: SizeRows) -> SizeSystemFact:
    """The system of that key or alias (upper or lower case).

    Raises :class:`BadInput` that names the nearest known system.
    """
    keys = {row.key for row in rows.systems}
    known = {key: key for key in keys} | {alias: row.key for row in rows.systems for alias in row.aliases}
    key = known.get(name.strip().casefold())
    if key is None:
        near = difflib.get_close_matches(name.strip().casefold(), known, n=1, cutoff=0.4)
        hint = f"did you mean '{near[0]}'? " if near else ""
        raise bad("system", f"no ring size system is called '{name}'", f"{hint}known: {', '.join(sorted(keys))}")
    return used(rows.systems, key)


def circumference_of(number: Fraction | float, system: SizeSystemFact) -> float:
    """The inner circumference of a size number of a system; for letters A is 0, Z is 25, Z+1 is 26."""
    measure = system.offset_mm + (float(number) - system.offset_number) * system.step_mm / system.per_numbers
    return measure * math.pi if system.measures == "diameter" else measure


def size_mm(system: SizeSystemFact) -> float:
    """The circumference from one whole size of the system to the next."""
    return part_mm(system) * system.parts


def part_mm(system: SizeSystemFact) -> float:
    """The circumference from one label of the system to the next."""
    step = system.step_mm / system.per_numbers / system.parts
    return step * math.pi if system.measures == "diameter" else step


def number_of(text: str, system: SizeSystemFact) -> Fraction:
    """The size number that ``text`` says in ``system``, such as "N 1/2", "N½", "M.5", "6 1/4", "6,25" or "54".

    Raises :class:`BadInput` with what a size of that system looks like.
    """
    tidy = text
    for sign, plain in _SIGNS.items():
        tidy = tidy.replace(sign, plain if sign == "⁄" else f" {plain}")
    tidy = " ".join(tidy.replace(",", ".").split()).upper()
    if system.offset_mm == 0 and system.spoken_parts == 0:
        tidy = tidy.removesuffix("MM").strip()
    number = _letter(tidy) if system.label == "letter" else _number(tidy)
    if number is None:
        raise bad("size", f"'{text}' is no size of {system.title}", f"a size is written like {_example(system)}")
    if system.spoken_parts and (number * system.spoken_parts).denominator != 1:
        low = Fraction(math.floor(number * system.spoken_parts), system.spoken_parts)
        high = low + Fraction(1, system.spoken_parts)
        right = f"{written(low, system)} or {written(high, system)}"
        raise bad("size", f"'{text}' lies between two sizes of {system.title}", right)
    if number < Fraction(system.lowest):
        lowest = written(Fraction(system.lowest), system)
        raise bad("size", f"'{text}' is below the smallest size of {system.title}", f"{lowest} or more")
    return number


def circumference_mm(text: str, system: str | None, rows: SizeRows) -> float:
    """The inner circumference in mm of the size ``text`` in ``system``.

    The text may name its system itself ("ISO 8653-54", "UK N 1/2"); then ``system`` may be None, or must be the
    same one. Raises :class:`BadInput` for an unknown system, for what is no size of it, and for a size that no
    finger has.
    """
    number, chosen = read_size(text, system, rows)
    circumference = circumference_of(number, chosen)
    check_wearable(circumference, f"size '{text}'", rows)
    return circumference


def read_size(text: str, system: str | None, rows: SizeRows) -> tuple[Fraction, SizeSystemFact]:
    """The size number and the system that ``text`` and ``system`` together say; see :func:`circumference_mm`."""
    named, rest = _named(text, rows)
    if system is None and named is None:
        keys = ", ".join(sorted({row.key for row in rows.systems}))
        raise bad("system", f"the size '{text}' names no system", f"say which: {keys}")
    chosen = system_of(system, rows) if system is not None else named
    assert chosen is not None
    if named is not None and named.key != chosen.key:
        right = f"leave the prefix away, or say system {named.key}"
        raise bad("size", f"'{text}' names the system {named.key}, but the system is {chosen.key}", right)
    try:
        return number_of(rest, chosen), chosen
    except BadInput:
        if rest != text:  # "no" is Norway, and yet may begin a text that is no size: tell of the text as given
            number_of(text, chosen)
        raise


def check_wearable(circumference: float, what: str, rows: SizeRows) -> None:
    """Raises :class:`BadInput` where a ring of that inner circumference is none that a finger wears."""
    diameter = circumference / math.pi
    limits = {row.key: row.inner_diameter_mm for row in rows.fits if row.inner_diameter_mm is not None}
    least, most = limits.get("ring-least", 0.0), limits.get("ring-most", math.inf)
    if not least <= diameter <= most:
        right = f"an inner diameter of {least:g} to {most:g} mm"
        raise bad("size", f"{what} would be an inner diameter of {diameter:.1f} mm", right)


def labels(inner_circumference_mm: float, rows: SizeRows) -> SizeLabels:
    """The nearest size of every system, with the residual: this circumference less that of the size.

    A value half-way between two sizes takes the larger. Raises :class:`BadInput` for a circumference that no
    finger has.
    """
    if not math.isfinite(inner_circumference_mm) or inner_circumference_mm <= 0:
        raise bad("size", f"an inner circumference of {inner_circumference_mm} mm is none", "a length above 0 mm")
    check_wearable(inner_circumference_mm, f"a circumference of {inner_circumference_mm:.2f} mm", rows)
    found = {}
    for key in dict.fromkeys(row.key for row in rows.systems):
        system = used(rows.systems, key)
        number = nearest(inner_circumference_mm, system)
        label = written(number, system)
        found[key] = SizeLabel(
            title=system.title,
            label=label,
            written=f"{system.prefix}{label}",
            residual_mm=inner_circumference_mm - circumference_of(number, system),
            off_stick=not system.stick_lowest <= number <= system.stick_highest,
        )
    return SizeLabels(
        inner_circumference_mm=inner_circumference_mm,
        inner_diameter_mm=inner_circumference_mm / math.pi,
        labels=found,
    )


def nearest(circumference: float, system: SizeSystemFact) -> Fraction:
    """The size number nearest to a circumference, in the parts that the system's labels have; half-way goes up."""
    measure = circumference / math.pi if system.measures == "diameter" else circumference
    exact = system.offset_number + (measure - system.offset_mm) * system.per_numbers / system.step_mm
    parts = math.floor(exact * system.parts + 0.5 + _ROUNDING)
    return max(Fraction(parts, system.parts), Fraction(system.lowest))


def written(number: Fraction, system: SizeSystemFact) -> str:
    """The label of a size number: "7", "7 1/4", "N 1/2", "Z+1"."""
    whole, part = divmod(number, 1)
    text = str(whole)
    if system.label == "letter":
        text = chr(ord("A") + whole) if whole <= 25 else f"Z+{whole - 25}"
    if not part:
        return text
    fraction = f"{part.numerator}/{part.denominator}"
    return fraction if text == "0" else f"{text} {fraction}"


def _example(system: SizeSystemFact) -> str:
    """Two sizes of the system, as a client would say them."""
    middle = Fraction(round((system.stick_lowest + system.stick_highest) / 2))
    part = Fraction(1, max(system.parts, 1))
    other = middle + (part if part != 1 else 1)
    return f"'{written(middle, system)}' or '{written(other, system)}'"


def _number(tidy: str) -> Fraction | None:
    """ "7", "7.25", "7 1/4", "1/4" as a fraction; None where it is none."""
    match = _NUMBER.fullmatch(tidy)
    if not match or not (match["whole"] or match["over"]):
        return None
    if match["under"] and (int(match["under"]) == 0 or int(match["over"]) >= int(match["under"])):
        return None
    if match["over"] and "." in (match["whole"] or ""):
        return None
    fraction = Fraction(int(match["over"]), int(match["under"])) if match["over"] else Fraction(0)
    return Fraction(match["whole"] or "0") + fraction


def _letter(tidy: str) -> Fraction | None:
    """ "N", "N 1/2", "N.5", "Z+1" as a number; None where it is none."""
    match = _LETTER.fullmatch(tidy)
    if not match or (match["beyond"] and match["letter"] != "Z"):
        return None
    number = Fraction(ord(match["letter"]) - ord("A") + int(match["beyond"] or 0))
    return number + Fraction(1, 2) if match["half"] else number


def _named(text: str, rows: SizeRows) -> tuple[SizeSystemFact | None, str]:
    """The system that a text names before its size, if it does, and the size alone."""
    tidy = text.strip()
    standard = next((row for row in rows.systems if row.prefix), None)
    if standard is not None:
        match = re.match(rf"{re.escape(standard.prefix.rstrip('-'))}(?::\d{{4}})?\s*[- ]\s*", tidy, re.IGNORECASE)
        if match:
            return used(rows.systems, standard.key), tidy[match.end() :]
    match = re.match(r"([A-Za-z]{2,})[ :-]+(?=\S)", tidy)
    if not match:
        return None, text
    word = match[1].casefold()
    key = next((row.key for row in rows.systems if word == row.key or word in row.aliases), None)
    if key is None or word == "mm":
        return None, text
    return used(rows.systems, key), tidy[match.end() :]
