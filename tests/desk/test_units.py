"""Units as the trade writes them, at the edge."""

from __future__ import annotations

import subprocess
import sys

import pytest

from ringwright.desk._units import _ALONE, _EXAMPLES, Unreadable, _converted, number, quantity


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1.9 mm", "mm", 1.9),
        ("1.9mm", "mm", 1.9),
        (" +.5  mm ", "mm", 0.5),
        ("0.25 in", "mm", 6.35),
        ('0.25"', "mm", 6.35),
        ("80 thou", "mm", 2.032),
        ("1.2 cm", "mm", 12.0),
        ("250 µm", "mm", 0.25),
        ("12 dwt", "g", 18.66208608),
        ("1 ozt", "g", 31.1034768),
        ("1 kg", "g", 1000.0),
        ("20 gr", "g", 1.2959782),
        ("0.2 g", "ct", 1.0),
        ("1.31 ct", "ct", 1.31),
        ("212 °F", "°C", 100.0),
        ("212 F", "°C", 100.0),
        ("540 C", "°C", 540.0),
        ("300 K", "°C", 26.85),
        ("6 °C/min", "°C/h", 360.0),
        ("360 F per h", "°C/h", 200.0),
        ("90 min", "h", 1.5),
        ("2 days", "h", 48.0),
        ("1 min", "s", 60.0),
        ("0.8 bar", "kPa", 80.0),
        ("75 %", "permille", 750.0),
        ("585 permille", "%", 58.5),
        ("0.5 l", "cm3", 500.0),
        ("500 cm³", "cm3", 500.0),
        ("5 revolutions_per_second", "rpm", 300.0),
        ("1 rad", "deg", 57.2957795131),
        ("15400 kg/m3", "g/cm3", 15.4),
        ("1.5e2 mm", "mm", 150.0),
    ],
)
def test_a_quantity_is_read(text: str, unit: str, value: float) -> None:
    assert quantity(text, unit) == pytest.approx(value, rel=1e-11)


def test_a_difference_of_temperatures_is_no_point_on_the_scale() -> None:
    assert quantity("18 °F", "°C", difference=True) == pytest.approx(10)
    assert quantity("18 °F", "°C") == pytest.approx(-7.7777778)
    assert quantity("10 K", "°C", difference=True) == pytest.approx(10)


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("", "mm", "not a number with its unit"),
        ("mm", "mm", "not a number with its unit"),
        ("1.9", "mm", 'write "1.9 mm"'),
        ("1,9 mm", "mm", 'write "1.9 mm"'),
        ("1.9 ct", "mm", "is not in mm"),
        ("1.9 furlongs_per_x", "mm", "not a known unit"),
        ("1.9 mm; import os", "mm", "not a known unit"),
        ("1.9 __import__('os')", "mm", "not a known unit"),
        ("1.9 mm**9999999", "mm", "not a known unit"),
        ("1.9 (", "mm", "not a known unit"),
        ("1 oz", "g", "1 ozt"),
        ("2 mil", "mm", "2 thou"),
        ("1e999 mm", "mm", "too large"),
        ("nan mm", "mm", "not a number with its unit"),
        ("150 kV", "HV", "not a known unit"),
        ("2 - 3 mm", "mm", "not a known unit"),
    ],
)
def test_what_is_no_quantity_is_told(text: str, unit: str, says: str) -> None:
    with pytest.raises(Unreadable) as fault:
        quantity(text, unit)
    assert says in str(fault.value)


@pytest.mark.parametrize("unit", sorted(set(_EXAMPLES) - set(_ALONE)))
def test_every_unit_of_the_files_is_known_to_the_converter(unit: str) -> None:
    assert _converted(1.0, unit, unit, False) == pytest.approx(1.0)
    assert quantity(_EXAMPLES[unit], unit) > 0


def test_a_plain_number() -> None:
    assert number(" -0.5 ") == -0.5
    with pytest.raises(Unreadable, match="not a number"):
        number("0.5 mm")


def test_units_as_wanted_load_no_converter() -> None:
    code = (
        "import sys; from ringwright.desk._units import quantity; quantity('1.9 mm', 'mm'); "
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
