"""What the papers may say of a stone, its weight and the metal: the rows of the law put to a text.

The answers are remarks: empty where nothing is wrong. A text is judged word by word, not by its meaning; it is a
check-list, not legal advice.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal

from ringwright.steps.mark._rows import market_of, metal_of
from ringwright.terms.mark import MarkingRows, WordingFact
from ringwright.terms.remark import Level, Remark

_KARATS = 24
_ORIGINS = {
    "laboratory-grown": ("grown", "created", "synthetic", "cultured", "cvd", "hpht-grown"),
    "imitation": ("imitation", "simulated", "simulant", "glass", "paste"),
    "composite": ("composite", "glass-filled", "doublet", "triplet"),
}


def origin_of(said: str) -> str:
    """An origin as the rows name it: composite, imitation or laboratory-grown where its words say so, else natural."""
    words = re.findall(r"[a-z-]+", said.casefold())
    plain = {part for word in words for part in (word, *word.split("-"))}
    for origin in ("composite", "imitation", "laboratory-grown"):
        if any(word in plain for word in _ORIGINS[origin]):
            return origin
    return "natural"


def check_stone_words(text: str, name: str, origin: str, market: str, rows: MarkingRows) -> tuple[Remark, ...]:
    """What is wrong in a text about a stone called ``name`` (diamond, ruby …) of that origin, in that market.

    Where the name stands without one of the words that must come immediately before it, where a forbidden word
    stands beside it, and where a word stands alone that needs another, the text is not to be used.
    """
    kind = origin_of(origin)
    row = _row("stone", market, rows, kind)
    if row is None:
        return ()
    lowered = " ".join(text.casefold().split())
    found: list[Remark] = []
    for place in re.finditer(rf"(?<![\w-]){re.escape(name.casefold())}s?\b", lowered):
        before = _before(lowered[: place.start()], row.between)
        qualified = any(before.endswith(word) for word in row.needs_before)
        if not qualified:
            says = f"'{_around(lowered, place)}' calls a {kind} stone '{name}' without saying so immediately before."
            found.append(_wrong("stone-unqualified", says, row))
        alone = [word for word in row.alone if _has(lowered, word)]
        if alone and not qualified:
            says = f"'{alone[0]}' alone does not say that the stone is {kind}."
            found.append(_wrong("stone-word-alone", says, row))
    found += [
        _wrong("stone-word-forbidden", f"'{word}' must not be said of a {kind} stone.", row)
        for word in row.forbids
        if _has(lowered, word)
    ]
    return tuple(dict.fromkeys(found))


def check_metal_words(
    text: str, metal: str, fineness_permille: float, market: str, rows: MarkingRows
) -> tuple[Remark, ...]:
    """What is wrong in a text about the metal: the bare word for an alloy, or a figure that the alloy does not hold."""
    row = _row(metal_of(metal), market, rows)
    if row is None or row.least_permille is None:
        return ()
    lowered = " ".join(text.casefold().split())
    names = "|".join(re.escape(name) for name in row.names)
    found: list[Remark] = []
    for place in re.finditer(rf"(?<![\w-])(?:{names})\b", lowered):
        before = _before(lowered[: place.start()], row.between)
        said = _said_permille(before, row.figure)
        said = said if said is not None else _said_permille(before, "karat" if row.figure == "permille" else "permille")
        if said is None and fineness_permille < row.least_permille:
            karat = f"{fineness_permille / 1000 * _KARATS:.0f}"
            right = row.right.replace("{karat}", karat).replace("{fineness}", f"{fineness_permille:.0f}")
            says = f"'{_around(lowered, place)}' calls an alloy of {fineness_permille:.1f} thousandths plain {metal}."
            found.append(_wrong("metal-unqualified", says, row, right))
        elif said is not None and said - fineness_permille > 1.0:
            says = f"The text claims {said:.1f} thousandths, the alloy has {fineness_permille:.1f}."
            found.append(_wrong("metal-overstated", says, row))
    return tuple(dict.fromkeys(found))


def check_carats(text: str, mass_ct: float, market: str, rows: MarkingRows) -> tuple[Remark, ...]:
    """What is wrong in the weights that a text states for a stone of ``mass_ct``.

    A decimal weight must be true to its last place, one with a single decimal (or none) to the second: ".5 carat"
    is 0.495 to 0.504 ct. A fraction must be said not to be exact; points need the decimal weight beside them.
    """
    row = _row("carats", market, rows)
    if row is None:
        return ()
    lowered = " ".join(text.casefold().split())
    unit = r"(?:carats?|ct\.?|cts\.?)\b"
    found: list[Remark] = []
    decimals = re.findall(rf"(?<![\d./])(\d*\.\d+|\d+)\s*-?{unit}", lowered)
    for said in decimals:
        stated = Decimal(said)
        places = max(-int(stated.as_tuple().exponent), 2)
        true = Decimal(str(mass_ct)).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
        if true != stated:
            says = f"'{said} ct' is stated, the stone weighs {mass_ct:.3f} ct: to {places} decimals that is {true}."
            found.append(_wrong("carats-untrue", says, row, f"write {true} ct", float(stated), mass_ct))
    if re.search(rf"\d\s*/\s*\d\s*-?{unit}", lowered) and "exact" not in lowered and "approximate" not in lowered:
        says = "A weight stands as a fraction without the word that it is not exact and without its range."
        found.append(_wrong("carats-fraction", says, row, "add that it is not exact, and the range that it stands for"))
    if re.search(r"\d\s*-?(?:points?|pts?\.?)\b", lowered) and not decimals:
        says = "A weight stands in points without the decimal carats beside it."
        found.append(_wrong("carats-points", says, row, f"write {mass_ct:.2f} ct beside the points"))
    return tuple(dict.fromkeys(found))


def _row(subject: str, market: str, rows: MarkingRows, origin: str = "") -> WordingFact | None:
    """The row of that market, or the one that holds everywhere."""
    key = market_of(market, rows).key
    fitting = [row for row in rows.wordings if row.subject == subject and row.origin == origin]
    for wanted in (key, "any"):
        for row in fitting:
            if row.market == wanted:
                return row
    return None


def _before(text: str, between: tuple[str, ...]) -> str:
    """The text before a name, without the words that may stand in between."""
    text = text.rstrip(" -")
    while True:
        shorter = next((text[: -len(word)] for word in between if re.search(rf"\b{re.escape(word)}$", text)), None)
        if shorter is None:
            return text
        text = shorter.rstrip(" -")


def _said_permille(before: str, figure: str) -> float | None:
    """The fineness said immediately before a metal's name, in thousandths."""
    if figure == "karat":
        match = re.search(r"(\d{1,2})\s*-?(?:karat|carat|kt\.?|ct\.?|k)$", before)
        return float(match[1]) / _KARATS * 1000 if match else None
    match = re.search(r"(?<!\d)(\d{3})(?:\s*/\s*1000|\s*thousandths)?$", before)
    return float(match[1]) if match else None


def _has(text: str, word: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text) is not None


def _around(text: str, place: re.Match[str]) -> str:
    """The name with the two words before it."""
    return " ".join([*text[: place.start()].split()[-2:], place[0]])


def _wrong(
    kind: str, says: str, row: WordingFact, right: str = "", figure: float | None = None, limit: float | None = None
) -> Remark:
    return Remark(
        "mark",
        Level.HALT,
        kind,
        says,
        figure,
        limit,
        "ct" if figure is not None else "",
        f"{row.law} ({row.source})",
        "papers",
        None,
        right or row.right,
    )
