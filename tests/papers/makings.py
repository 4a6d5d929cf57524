"""A small making with a result of every kind of figure, for tests that need no step."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

import numpy as np

from ringwright.desk.reading import commission_in, workshop_in
from ringwright.terms.body import Body, Field, Mesh, Residual, Role
from ringwright.terms.commission import Commission
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate, Figure
from ringwright.terms.remark import Level, Point, Remark
from ringwright.terms.workshop import Workshop
from tests.desk.texts import COMMISSION, WORKSHOP


class Way(StrEnum):
    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, kw_only=True)
class Hold:
    """One hold."""

    to_C: Annotated[float, Figure("°C", 0, "Where to")]
    hours: Annotated[float | None, Figure("h", 1, "How long")] = None


@dataclass(frozen=True, kw_only=True)
class Fired:
    """A result of every kind of figure.

    And a second paragraph.
    """

    mass_g: Annotated[Estimate, Figure("g", 2, "Mass", chief=True)]
    lost_g: Annotated[Estimate | None, Figure("g", 2, "Lost")] = None
    price: Annotated[Decimal, Figure("money", 2, "Price")]
    way: Annotated[Way, Figure("", 0, "Way")]
    holds: Annotated[tuple[Hold, ...], Figure("", 0, "Holds")]
    at_mm: Annotated[Point | None, Figure("mm", 2, "Where")] = None
    shares: Annotated[dict[str, float], Figure("%", 1, "Shares")]
    ready: Annotated[dt.date | None, Figure("", 0, "Day")] = None
    safety: Annotated[float, Figure("", 1, "Safety")]
    sound: Annotated[bool, Figure("", 0, "Sound")]
    first: Hold | None = None
    best: Annotated[Hold, Figure("", 0, "Best")]


@dataclass(frozen=True, kw_only=True)
class Making:
    commission: Commission
    workshop: Workshop
    burnout: Outcome[Fired]
    pattern: Outcome[Hold]
    pour: Outcome[Hold] | None = None


STAMP = dt.datetime(2027, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
MESH = Mesh(
    np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]]), np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
)
RESULT = Fired(
    mass_g=Estimate(4.20000000001, 0.1),
    price=Decimal("12.50"),
    way=Way.DOWN,
    holds=(Hold(to_C=150.0, hours=2.0), Hold(to_C=730.0)),
    at_mm=(0.0, -0.0, 1 / 3),
    shares={"Au": 75.0},
    ready=dt.date(2027, 4, 1),
    safety=float("inf"),
    sound=True,
    best=Hold(to_C=40.0),
)
MAKING = Making(
    commission=commission_in(COMMISSION, "a.toml"),
    workshop=workshop_in(WORKSHOP, "w.toml"),
    burnout=Outcome(
        "burnout",
        RESULT,
        (
            Remark(
                "burnout", Level.HEED, "hot", "It is hot.", 760.0, 730.0, "°C", "a sheet", "core", (0, 0, 1), "cool it"
            ),
        ),
        residuals=(Residual("heat", 1e-5, 2e-4),),
    ),
    pattern=Outcome(
        "pattern",
        Hold(to_C=20.0),
        (),
        (Body("pattern", Role.PATTERN, MESH),),
        (Field("wall", "Wall", "mm", "pattern", np.array([1.0, np.nan, 3.0, 2.0])),),
    ),
)
