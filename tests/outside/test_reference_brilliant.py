"""The reference brilliant of Reinitz, Geurts and Gilbertson: table 57, crown 34.0°, pavilion 40.7°, girdle 2.5 %."""

from __future__ import annotations

import dataclasses
import math

from tests.agrees import agrees
from tests.steps.gem_stones import CUTS, solid

SOURCE = "Reinitz, Geurts and Gilbertson, Weight Ratio within a cut grading system, reference proportions"
TWIN = "exact planes, computed independently with a half-space intersection"


def test_heights_from_the_published_angles() -> None:
    made = solid(length_mm=6.5, width_mm=6.5, depth_mm=3.9, table_percent=57.0, girdle_percent=2.5)
    percent = 100 / 6.5
    agrees(
        made.crown_height_mm * percent, 14.5, within=0.1, absolute=True, source=SOURCE, what="crown of the reference, %"
    )
    agrees(
        made.pavilion_depth_mm * percent,
        43.0,
        within=0.1,
        absolute=True,
        source=SOURCE,
        what="pavilion of the reference, %",
    )
    agrees(made.crown_deg, 34.0, within=0.05, absolute=True, source=SOURCE, what="crown angle of the reference, °")
    agrees(made.pavilion_deg, 40.7, within=0.05, absolute=True, source=SOURCE, what="pavilion of the reference, °")
    whole = CUTS["round brilliant"]
    crown = (1 - 0.57) / 2 * math.tan(math.radians(whole.crown_deg or 0))
    total = 100 * crown + 2.5 + (whole.pavilion_percent or 0)
    agrees(total, 60.0, within=0.1, absolute=True, source=SOURCE, what="total depth of the reference, %")


def test_volume_and_mass_of_the_reference() -> None:
    made = solid(length_mm=6.5, width_mm=6.5, depth_mm=3.9, table_percent=57.0, girdle_percent=2.5)
    agrees(made.volume_mm3 / 6.5**3, 0.2041, within=0.005, source=TWIN, what="volume of the reference over D cubed")
    agrees(made.volume_mm3 * 3.52 / 200, 0.986, within=0.005, source=TWIN, what="the reference of 6.50 mm, ct")


def test_tolkowsky() -> None:
    source = "Tolkowsky, Diamond Design, 1919: table 53, crown 34° 30', pavilion 40° 45', no girdle"
    fact = dataclasses.replace(
        CUTS["round brilliant"],
        crown_deg=34.5,
        pavilion_percent=50 * math.tan(math.radians(40.75)),
        lower_half_percent=75,
    )
    depth = 0.47 / 2 * math.tan(math.radians(34.5)) + 0.5 * math.tan(math.radians(40.75))
    made = solid(fact=fact, length_mm=10.0, width_mm=10.0, depth_mm=10 * depth, table_percent=53.0, girdle_percent=0.0)
    agrees(made.crown_height_mm * 10, 16.2, within=0.1, absolute=True, source=source, what="crown of Tolkowsky, %")
    agrees(made.pavilion_depth_mm * 10, 43.1, within=0.1, absolute=True, source=source, what="pavilion, Tolkowsky, %")
    height = made.table_z_mm - made.culet_z_mm
    agrees(height * 10, 59.3, within=0.1, absolute=True, source=source, what="total depth of Tolkowsky, %")
    agrees(made.volume_mm3 / 1000, 0.1900, within=0.005, source=TWIN, what="volume of Tolkowsky's over D cubed")
