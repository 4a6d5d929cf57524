"""A dossier is plain data that its own schema describes, and the same making gives the same bytes."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any

import jsonschema
import numpy as np
import pytest

from ringwright.desk.reading import commission_in, workshop_in
from ringwright.papers import files_of
from ringwright.papers.dossier import dossier
from ringwright.papers.plain import json_bytes, plain
from ringwright.papers.schema import dossier_schema
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

    mass_g: Annotated[Estimate, Figure("g", 2, "Mass")]
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


def test_the_schema_is_a_schema_and_describes_the_dossier() -> None:
    schema = dossier_schema(Making)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads(json_bytes(dossier(MAKING, STAMP))), schema, cls=jsonschema.Draft202012Validator)
    mass = schema["$defs"]["Fired"]["properties"]["mass_g"]
    assert mass["description"] == "Mass"
    assert (mass["x-unit"], mass["x-digits"]) == ("g", 2)


HARM: list[Any] = [
    lambda data: data.pop("verdict"),
    lambda data: data.update(more=1),
    lambda data: data["steps"].update(other={}),
    lambda data: data["steps"]["burnout"]["result"].update(price=12.5),
    lambda data: data["steps"]["burnout"]["result"].update(way="sideways"),
    lambda data: data["steps"]["burnout"]["result"].update(at_mm=[1.0, 2.0]),
    lambda data: data["steps"]["burnout"]["result"]["mass_g"].pop("plus_minus"),
    lambda data: data["steps"]["burnout"]["remarks"][0].pop("change"),
    lambda data: data["commission"]["stone"][0].update(length_mm="7 mm"),
]


@pytest.mark.parametrize("harm", range(len(HARM)))
def test_the_schema_refuses_what_is_no_dossier(harm: int) -> None:
    data = json.loads(json_bytes(dossier(MAKING, STAMP)))
    HARM[harm](data)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, dossier_schema(Making), cls=jsonschema.Draft202012Validator)


def test_a_step_is_told_whole() -> None:
    data = dossier(MAKING, STAMP)
    assert list(data["steps"]) == ["pattern", "burnout"], "in the order of the work"
    step = data["steps"]["burnout"]
    assert data["verdict"] == step["verdict"] == "heed"
    assert step["result"]["mass_g"] == {"value": 4.2, "plus_minus": 0.1}
    assert step["result"]["price"] == "12.50"
    assert step["result"]["at_mm"] == [0.0, 0.0, 0.3333333]
    assert step["result"]["safety"] is None
    assert step["result"]["ready"] == "2027-04-01"
    assert {
        "name": "mass_g",
        "help": "Mass",
        "value": {"value": 4.2, "plus_minus": 0.1},
        "unit": "g",
        "digits": 2,
    } in step["figures"]
    assert [figure["name"] for figure in step["figures"]] == ["mass_g", "price", "way", "ready", "safety", "sound"]
    assert step["remarks"][0]["point_mm"] == [0, 0, 1]
    assert step["residuals"] == [{"name": "heat", "value": 1e-05, "bound": 0.0002}]
    assert data["steps"]["pattern"]["bodies"] == [{"name": "pattern", "role": "pattern", "triangles": 4}]
    assert data["steps"]["pattern"]["fields"][0]["least"] == 1.0


def test_the_same_making_gives_the_same_bytes_but_for_the_stamp() -> None:
    one, two = files_of(MAKING, STAMP), files_of(replace(MAKING), STAMP)
    later = files_of(MAKING, STAMP.replace(year=2028))
    assert one == two
    assert {name for name in one if one[name] != later[name]} == {"dossier.json"}
    assert json.loads(one["dossier.json"]) == json.loads(later["dossier.json"]) | {"made_at": STAMP.isoformat()}


def test_the_files_of_a_dossier() -> None:
    found = files_of(MAKING, STAMP)
    assert sorted(found) == ["dossier.json", "fields/pattern-wall.glb", "pattern.3mf", "pattern.stl"]
    assert json.loads(found["dossier.json"])["files"] == sorted(set(found) - {"dossier.json"})


@pytest.mark.parametrize("value", [np.zeros(3), MESH, object(), {1: object()}])
def test_what_is_no_figure_is_refused(value: Any) -> None:
    with pytest.raises(TypeError, match="no figure"):
        plain(value)


def test_bits_that_differ_between_processors_do_not_show() -> None:
    assert json_bytes(plain(0.1 + 0.2)) == json_bytes(plain(0.3))
    assert json_bytes(plain(1234567.89)) != json_bytes(plain(1234569.0))
