"""What nobody can cast, told by the whole way from the files: where in them, what is wrong, what would be right."""

from __future__ import annotations

import datetime as dt
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk.keeping import Keeping
from ringwright.desk.planning import read_order, worked
from ringwright.terms.making import Making
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import NotPoured
from ringwright.terms.remark import Level
from tests.desk.texts import COMMISSION

TODAY = dt.date(2027, 1, 2)
WORKSHOP = (files("ringwright.desk") / "demo" / "workshop.toml").read_text("utf-8")
BAND = re.sub(r"\[\[stone\]\].*?\n\n", "", COMMISSION, flags=re.DOTALL).replace(
    'shape = "solitaire"\nclaws = 4', 'shape = "band"\nwidth = "2.5 mm"\nthickness = "1.6 mm"'
)
KEPT = Keeping()


def keep(step: str, function: Any, *inputs: Any) -> Any:
    """What does not change between the cases is worked once; the strength is not asked for."""
    return Outcome("wear", None) if step == "wear" else KEPT(step, function, *inputs)


def making(tmp_path: Path, commission: str = BAND, workshop: str = WORKSHOP) -> Making:
    path = tmp_path / "ring.commission.toml"
    path.write_text(commission, "utf-8")
    (tmp_path / "workshop.toml").write_text(workshop, "utf-8")
    return worked(read_order(path, today=TODAY), path, today=TODAY, keep=keep)


def habits(**lines: str) -> str:
    told = "".join(f'{key} = "{value}"\n' for key, value in lines.items())
    return WORKSHOP.replace('investment = "gypsum"\n', told)


@pytest.mark.parametrize(
    ("commission", "workshop", "says"),
    [
        (
            BAND + '\n[tree]\ngates = ["0, 0, 0 mm", "0, -11.2, 0 mm"]\n',
            WORKSHOP,
            [
                r"ring\.commission\.toml:\d+: tree\.gates\[1\]: gate 1 of 2027-014 lies 8\.\d mm off the metal; a",
                r"ring\.commission\.toml:\d+: tree\.gates\[2\]: gate 2 of 2027-014 lies 1\.\d mm off the metal",
            ],
        ),
        (
            BAND,
            habits(investment="gypsum", flask="800 °C"),
            [r"flask temperature: asked 800 °C, gypsum bears 750 °C"],
        ),
    ],
)
def test_it_is_refused_with_file_and_line(tmp_path: Path, commission: str, workshop: str, says: list[str]) -> None:
    with pytest.raises(BadInput) as fault:
        making(tmp_path, commission, workshop)
    told = [str(one) for one in fault.value.mistakes]
    assert len(told) == len(says)
    for one, pattern in zip(told, says, strict=True):
        assert re.match(pattern, one), one


def test_a_flask_hotter_than_the_solidus_and_a_small_crucible_halt_and_nothing_else_stops(tmp_path: Path) -> None:
    shop = habits(investment="silica", flask="900 °C").replace('capacity = "12 cm3"', 'capacity = "0.2 cm3"')
    found = making(tmp_path, workshop=shop)
    assert isinstance(found.pour.result, NotPoured)
    (said,) = found.pour.remarks
    assert said.level is Level.HALT
    assert "900 °C is not below the solidus" in said.says
    assert "less than" in said.change
    (crucible,) = (r for r in found.tree.remarks if r.level is Level.HALT)
    assert "does not fit the crucible hand crucible" in crucible.says
    assert "a crucible of at least" in crucible.change
    assert found.price.result.total > 0
