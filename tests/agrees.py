"""The one way in which a test compares a figure of ours with one from outside the project."""

from __future__ import annotations

import math
from dataclasses import dataclass

MEMORY = "from memory"
COMMON_PRACTICE = "common practice, no source"
_WIDEST = 0.25


@dataclass(frozen=True)
class Check:
    """One comparison with the world, as the docs page prints it."""

    what: str
    ours: float
    published: float
    within: float
    source: str
    test: str


CHECKS: list[Check] = []


def agrees(value: float, published: float, *, within: float, source: str, what: str, absolute: bool = False) -> None:
    """Assert that ``value`` lies within ``within`` of ``published``: a share of it, or an amount if ``absolute``.

    ``source`` names the publication, the closed form ("exact: …"), ``COMMON_PRACTICE`` or "… from memory".
    Refuses a check that could not fail: no source, no name, a tolerance of nothing or of more than a quarter
    of the published figure.
    """
    import os

    assert len(source.strip()) >= 8, "a check against the world names its source"
    assert what.strip(), "a check against the world says what it compares"
    assert math.isfinite(value), f"{what}: {value} is no number"
    share = within / abs(published) if absolute and published else within
    assert 0 < share <= _WIDEST or (absolute and published == 0 and within > 0), (
        f"{what}: a tolerance of {share:.0%} of the published figure is no check"
    )
    allowed = within if absolute else within * abs(published)
    test = os.environ.get("PYTEST_CURRENT_TEST", "").split(" ")[0]
    CHECKS.append(Check(what, value, published, within if absolute else within * abs(published), source, test))
    assert abs(value - published) <= allowed, (
        f"{what}: ours {value:.6g}, published {published:.6g} ± {allowed:.3g} ({source})"
    )
