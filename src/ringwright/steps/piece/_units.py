"""In which unit a model is drawn: as declared, as the file says, or as a finger would have it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.steps.piece._raw import UNITS_MM, Raw
from ringwright.terms.facts import used
from ringwright.terms.mistake import bad
from ringwright.terms.piece import PieceLimit, UnitsFrom
from ringwright.terms.remark import Level, Remark

_SAID = {
    "mm": "mm", "millimetre": "mm", "millimeter": "mm", "cm": "cm", "centimetre": "cm", "centimeter": "cm",
    "m": "m", "metre": "m", "meter": "m", "in": "in", "inch": "in", "inches": "in", '"': "in",
}  # fmt: skip
GUESSED = ("mm", "in", "cm", "m")
"""The units that are tried."""


@dataclass(frozen=True)
class Unit:
    """The unit, who said so, and what to remark of it."""

    name: str
    by: UnitsFrom
    remarks: tuple[Remark, ...]


def declared(units: str | None, where: str) -> str | None:
    """The declared unit in its short form. Raises :class:`BadInput` for a word that is no unit."""
    if units is None or not units.strip():
        return None
    short = _SAID.get(units.strip().lower())
    if short is None:
        raise bad(f"{where}, units", f"'{units}' is no unit of length", "mm, cm, m or in")
    return short


def settle(raw: Raw, said: str | None, hole: float | None, extent: float, limits: tuple[PieceLimit, ...]) -> Unit:
    """The unit of a model whose hole (None if not looked for) and largest extent measure so much in its own numbers."""
    size, bounds = (hole, used(limits, "hole")) if hole is not None else (extent, used(limits, "overall"))
    what = "finger hole" if hole is not None else "largest extent"
    low, high = float(bounds.low_mm or 0.0), float(bounds.high_mm or np.inf)
    fits = [unit for unit in GUESSED if low <= size * UNITS_MM[unit] <= high]
    stated = said or raw.unit
    if said is None and raw.by_standard and raw.unit not in fits and fits:
        remark = _remark(
            Level.HEED,
            f"{raw.format} is in {_long(raw.unit)} by its standard, but the {what} would then be"
            f" {_about(size * UNITS_MM[raw.unit or 'mm'])}; taken as {fits[0]},"
            f" it is {_about(size * UNITS_MM[fits[0]])}",
            change="say the unit in the commission: [model] units",
        )
        return Unit(fits[0], UnitsFrom.GUESSED, (remark,))
    if stated is not None:
        by = UnitsFrom.DECLARED if said else UnitsFrom.FILE
        return Unit(stated, by, _odd(stated, by, raw, size, what, bounds, fits))
    if not fits:
        remark = _remark(
            Level.HEED,
            f"the file states no unit, and its {what} of {size:.4g} fits no finger in mm, inches, cm or m; taken as mm",
            size, bounds, "mm", "say the unit in the commission: [model] units",
        )  # fmt: skip
        return Unit("mm", UnitsFrom.GUESSED, (remark,))
    usual = float(bounds.usual_mm or np.sqrt(low * min(high, 1e6)))
    best = min(fits, key=lambda unit: abs(np.log(size * UNITS_MM[unit] / usual)))
    says = f"the file states no unit; taken as {best}, for its {what} is then {_about(size * UNITS_MM[best])}"
    if len(fits) == 1:
        return Unit(best, UnitsFrom.GUESSED, (_remark(Level.FINE, says),))
    other = next(unit for unit in fits if unit != best)
    remark = _remark(
        Level.HEED,
        f"{says}; in {other} it would be {_about(size * UNITS_MM[other])}, which is possible too",
        change="say the unit in the commission: [model] units",
    )
    return Unit(best, UnitsFrom.GUESSED, (remark,))


def _odd(
    stated: str, by: UnitsFrom, raw: Raw, size: float, what: str, bounds: PieceLimit, fits: list[str]
) -> tuple[Remark, ...]:
    """What to remark of a stated unit: that no finger fits it, or that the file states another."""
    out = []
    if by is UnitsFrom.DECLARED and raw.unit is not None and raw.unit != stated and not raw.by_standard:
        says = f"the {raw.format} file states {_long(raw.unit)}; taken as {_long(stated)}, as declared"
        out.append(_remark(Level.HEED, says, change="see that the declared unit is meant"))
    if stated not in fits:
        size_mm = size * UNITS_MM[stated]
        says = f"drawn in {_long(stated)} the {what} is {_about(size_mm)}"
        if fits:
            says += f"; in {_long(fits[0])} it would be {_about(size * UNITS_MM[fits[0]])}"
        out.append(_remark(Level.HEED, says, size_mm, bounds, "mm", "see in which unit the model was exported"))
    return tuple(out)


def _long(unit: str | None) -> str:
    return {"in": "inches", "m": "metres", "ft": "feet", "micron": "microns"}.get(unit or "", unit or "")


def _about(size_mm: float) -> str:
    """A length that is known to some percent."""
    digits = 0 if size_mm >= 10.0 else 2
    return f"about {size_mm:,.{digits}f} mm"


def _remark(
    level: Level,
    says: str,
    figure: float | None = None,
    bounds: PieceLimit | None = None,
    unit: str = "",
    change: str = "",
) -> Remark:
    limit = None
    if bounds is not None and figure is not None:
        limit = bounds.low_mm if figure < float(bounds.low_mm or 0.0) else bounds.high_mm
    return Remark(
        step="piece", level=level, kind="units", says=says[0].upper() + says[1:], figure=figure, limit=limit, unit=unit,
        limit_source=bounds.source if bounds is not None and limit is not None else "", change=change,
    )  # fmt: skip
