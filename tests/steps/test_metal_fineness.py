"""The bench's arithmetic of fineness, mass and two-metal alloys."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.steps import metal
from ringwright.terms.mistake import BadInput


@given(
    mass=st.floats(0.1, 1000),
    start=st.floats(1, 999),
    wanted=st.floats(1, 999),
)
def test_what_is_added_brings_the_whole_to_the_wanted_fineness(mass: float, start: float, wanted: float) -> None:
    adding = 1000.0 if wanted > start else 0.0
    more = metal.to_reach(mass, start, wanted, adding_permille=adding)
    assert more >= 0
    assert (mass * start + more * adding) / (mass + more) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(
    ("given_", "says"),
    [
        ((10, 585, 750, 700), "metal of 700 permille cannot bring 585 to 750"),
        ((10, 750, 585, 600), "metal of 600 permille cannot bring 750 to 585"),
        ((0, 585, 750, 1000), "0 g is no mass"),
        ((10, 1585, 750, 1000), "1585 permille is no fineness"),
        ((float("nan"), 585, 750, 1000), "nan g is no mass"),
    ],
)
def test_what_cannot_be_is_told(given_: tuple[float, float, float, float], says: str) -> None:
    mass, start, wanted, adding = given_
    with pytest.raises(BadInput, match=says):
        metal.to_reach(mass, start, wanted, adding_permille=adding)


def test_nothing_is_added_where_nothing_is_wanted() -> None:
    assert metal.to_reach(10, 750, 750, adding_permille=1000) == 0


@given(mass=st.floats(0.01, 100), one=st.floats(0.9, 22), other=st.floats(0.9, 22))
def test_mass_there_and_back(mass: float, one: float, other: float) -> None:
    assert metal.mass_in(metal.mass_in(mass, one, other), other, one) == pytest.approx(mass)


def test_mass_in_refuses_no_density() -> None:
    with pytest.raises(BadInput, match="density: 0 is not above zero"):
        metal.mass_in(1, 0, 10)


@given(share=st.floats(0, 1))
def test_share_of_two_inverts_ideal_mixing(share: float) -> None:
    density = 1 / (share / 19.3 + (1 - share) / 8.96)
    assert metal.share_of_two(min(max(density, 8.96), 19.3), 19.3, 8.96) == pytest.approx(share, abs=1e-9)


def test_share_of_two_refuses_a_density_outside() -> None:
    with pytest.raises(BadInput, match="does not lie between the two metals"):
        metal.share_of_two(20, 19.3, 8.96)
