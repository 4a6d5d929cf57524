"""Troy weights: exact by definition (a troy grain is 64.79891 mg)."""

from __future__ import annotations

from ringwright.desk._units import quantity
from tests.agrees import agrees

SOURCE = "exact: 480 troy grains of 64.79891 mg"


def test_a_troy_ounce_in_grams_and_pennyweights() -> None:
    ounce = quantity("1 ozt", "g")
    agrees(ounce, 31.1034768, within=1e-9, absolute=True, source=SOURCE, what="1 troy ounce in g")
    agrees(quantity("20 dwt", "g"), ounce, within=1e-9, absolute=True, source=SOURCE, what="20 pennyweights in g")


def test_the_fine_gold_of_a_ring() -> None:
    """5.2 g of 750 hold 3.900 g, which is 0.12539 troy ounces."""
    fine = 5.2 * 0.750
    agrees(
        fine / quantity("1 ozt", "g"),
        0.12539,
        within=5e-6,
        absolute=True,
        source=SOURCE,
        what="5.2 g of 750, in troy ounces",
    )
