"""Where a cut is easily hurt, as places on its girdle."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ringwright.terms.body import Floats
from ringwright.terms.gems import Corner, CutFact, CutRisk


def corners_of(cut: CutFact, outline: Floats, risks: Iterable[CutRisk]) -> tuple[Corner, ...]:
    """The points, corners, ends and clefts of an outline for which the facts name a risk, those at +x first."""
    found = [
        Corner(risk.feature, (float(x), float(y), 0.0), risk.severity, risk.advice, risk.source)
        for risk in risks
        if risk.cut == cut.key
        for x, y in _places(cut, risk.feature, outline)
    ]
    return tuple(sorted(found, key=lambda c: (-c.at_mm[0], c.at_mm[1])))


def _places(cut: CutFact, feature: str, outline: Floats) -> Floats:
    """The places of a feature on the whole outline; none for a feature that is everywhere, as a round girdle."""
    half = len(outline) // 2
    found: Floats
    right, left = outline[0], outline[half]
    match feature, cut.outline:
        case "point", "marquise":
            return np.array([right, left])
        case "point", _:
            return np.array([right])
        case "cleft", _:
            return np.array([left])
        case "end", _:
            return np.array([right, left])
        case "corner", "cut corners":
            middles = (outline + np.roll(outline, -1, axis=0)) / 2
            run = np.roll(outline, -1, axis=0) - outline
            found = middles[np.abs(run).min(axis=1) > 1e-9]
            return found
        case "corner", _:
            diagonal = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]]) * np.ptp(outline, axis=0)[::-1]
            found = outline[np.argmax(outline @ diagonal.T, axis=0)]
            return found
        case _:
            return np.empty((0, 2))
