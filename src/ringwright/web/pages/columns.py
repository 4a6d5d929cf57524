"""A column of the facts as its head shows it: its name, and its unit apart."""

from __future__ import annotations

UNITS: dict[str, str] = {
    "g_cm3K": "g/(cm³ K)",
    "g_cm3": "g/cm³",
    "W_m2K": "W/(m² K)",
    "W_mK": "W/(m K)",
    "J_kgK": "J/(kg K)",
    "kJ_kg": "kJ/kg",
    "L_kg": "L/kg",
    "C_per_h": "°C/h",
    "per_MK": "10⁻⁶/K",
    "cal_molK2": "cal/(mol K²)",
    "cal_molK": "cal/(mol K)",
    "MPa_HV": "MPa/HV",
    "HV_per_percent": "HV/%",
    "mg_m3": "mg/m³",
    "ug_m3": "µg/m³",
    "ug_cm2_week": "µg/cm² / 7 d",
    "mm3_per_year": "mm³/a",
    "N_m": "N/m",
    "mPas": "mPa s",
    "kgf_mm2": "kgf/mm²",
    "min_per_mm3": "min/mm³",
    "min_per_mm2": "min/mm²",
    "min_per_h": "min/h",
    "percent": "%",
    "permille": "‰",
    "days": "d",
    "mm": "mm",
    "m2": "m²",
    "ct": "ct",
    "C": "°C",
    "K": "K",
    "MPa": "MPa",
    "GPa": "GPa",
    "HV": "HV",
    "deg": "°",
    "ppm": "ppm",
    "dBA": "dB(A)",
    "bar": "bar",
    "min": "min",
    "g": "g",
    "h": "h",
    "N": "N",
}
"""How a column's name ends, and the unit that it means."""

_LEAST = frozenset({"depth_min", "table_min", "girdle_min", "ratio_min", "length_min"})
"""Columns that end in "min" and mean the least."""


def parted(column: str) -> tuple[str, str]:
    """A column's name without its unit, and the unit; "" where it has none."""
    if column in _LEAST:
        return column, ""
    for ending in sorted(UNITS, key=len, reverse=True):
        if column.endswith(f"_{ending}"):
            return column.removesuffix(f"_{ending}"), UNITS[ending]
    return column, ""
