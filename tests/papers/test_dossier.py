"""A dossier is plain data that its own schema describes, and the same making gives the same bytes."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import jsonschema
import numpy as np
import pytest

from ringwright.papers import files_of
from ringwright.papers.dossier import dossier
from ringwright.papers.plain import json_bytes, plain
from ringwright.papers.schema import dossier_schema
from ringwright.terms.quantity import Figure
from tests.papers.makings import MAKING, MESH, STAMP, Making


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
    assert step["result"]["at_mm"] == [0.0, 0.0, 0.333333]
    assert step["result"]["safety"] is None
    assert step["result"]["ready"] == "2027-04-01"
    assert {
        "name": "mass_g",
        "help": "Mass",
        "value": {"value": 4.2, "plus_minus": 0.1},
        "unit": "g",
        "digits": 2,
        "chief": True,
    } in step["figures"]
    names = ["mass_g", "price", "way", "at_mm", "ready", "safety", "sound", "best.to_C"]
    assert [figure["name"] for figure in step["figures"]] == names
    holds, shares = step["tables"]
    assert [column["name"] for column in holds["columns"]] == ["to_C", "hours"]
    assert holds["rows"] == [[150.0, 2.0], [730.0, None]]
    assert (shares["rows"], shares["columns"][1]["unit"]) == ([["Au", 75.0]], "%")
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
    assert sorted(found) == ["bench.pdf", "dossier.json", "fields/pattern-wall.glb", "pattern.3mf", "pattern.stl"]
    assert json.loads(found["dossier.json"])["files"] == sorted(set(found) - {"dossier.json"})


@pytest.mark.parametrize("value", [np.zeros(3), MESH, object(), {1: object()}])
def test_what_is_no_figure_is_refused(value: Any) -> None:
    with pytest.raises(TypeError, match="no figure"):
        plain(value)


def test_bits_that_differ_between_processors_do_not_show() -> None:
    assert json_bytes(plain(0.1 + 0.2)) == json_bytes(plain(0.3))
    assert json_bytes(plain(1234567.89)) != json_bytes(plain(1234569.0))


def test_what_is_left_over_near_zero_does_not_show() -> None:
    assert plain(1.2345678e-9, Figure("mm", 3, "")) == 0.0
    assert plain((1e-9, 2.5), Figure("mm", 3, "")) == [0.0, 2.5]
    assert plain(1.2345678e-9, Figure("", 3, "")) == 1.234568e-09, "a pure number may be a small one"
