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


worked_once = keep


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
        (
            BAND + '\n[tree]\nfeeders = ["0, 0, 0 mm"]\n',
            WORKSHOP,
            [r"ring\.commission\.toml:\d+: tree\.feeders\[1\]: feeder 1 of 2027-014 lies 8\.\d mm off the metal; a"],
        ),
        (
            BAND + '\n[tree]\nflask = "low"\n',
            WORKSHOP.replace(
                "[[flask]]", '[[flask]]\nname = "low"\ndiameter = "40 mm"\nheight = "25 mm"\n\n[[flask]]', 1
            ),
            [
                r"ring\.commission\.toml:\d+: tree\.flask: the flask 'low' \(40 × 25 mm\) is too small: the tree needs "
                r"\d+ × \d+ mm; 'small' of the workshop would do"
            ],
        ),
        (
            BAND,
            habits(investment="gypsum", superheat="-20 K"),
            [r'workshop\.toml:\d+: habits\.superheat: "-20 K" cannot be; write more than 0 °C'],
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


def halts(found: Making) -> list[str]:
    return [f"{r.says} {r.change}" for step in (found.tree, found.pour) for r in step.remarks if r.level is Level.HALT]


def test_a_tree_too_tall_for_every_flask_halts_with_the_flask_that_would_do(tmp_path: Path) -> None:
    low = re.sub(r'(\[\[flask\]\]\n(?:.*\n)*?height = )"[^"]*"', r'\1"20 mm"', WORKSHOP)
    (said,) = halts(making(tmp_path, workshop=low))
    assert re.match(
        r"No flask of the workshop takes the tree: it needs \d+ mm across and \d+ mm of height\. get a flask",
        said,
    )


def test_metal_too_thin_for_any_cells_halts_with_its_place_and_what_would_do(tmp_path: Path) -> None:
    found = making(tmp_path, BAND.replace('thickness = "1.6 mm"', 'thickness = "0.2 mm"'))
    assert isinstance(found.pour.result, NotPoured)
    (said,) = halts(found)
    assert re.match(
        r"cells: cells of 0\.4 mm are too coarse for 0\.\d\d mm of metal on 2027-014 \(.*from the head.*\) metal of "
        r"0\.2 mm or more there; 0\.0\d mm would do, finer than any cells",
        said,
    )


def test_more_memory_than_the_bound_halts_before_it_starts_with_the_figure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if every cell took a thousand times its bytes: a ring that truly needs so much is not worked in a test."""
    monkeypatch.setattr("ringwright.steps.pour._thermal._BYTES", 80_000.0)
    monkeypatch.setitem(globals(), "keep", lambda step, f, *x: f(*x) if step == "pour" else worked_once(step, f, *x))
    found = making(tmp_path)
    assert isinstance(found.pour.result, NotPoured)
    (said,) = halts(found)
    assert re.match(r"cells: cells of 0\.\d+ mm would need \d+\.\d\d GB for freezing, more than 1\.2 GB \d", said)
    assert said.endswith("mm or more")
