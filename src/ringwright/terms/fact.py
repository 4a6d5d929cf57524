"""A row of the trade's figures, with where it is from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Basis(StrEnum):
    """What a figure stands on, strongest first."""

    STANDARD = "standard"
    HANDBOOK = "handbook"
    MAKERS_SHEET = "maker's sheet"
    PUBLISHED = "published"
    COMPUTED = "computed"
    COMMON_PRACTICE = "common practice"
    MEMORY = "memory"
    OWN = "our own"


@dataclass(frozen=True, kw_only=True)
class Row:
    """What every row has: a ``key``, its ``source`` and ``basis``, the ``condition`` under which it holds.

    Several rows of a table may share a key where sources disagree; then exactly one of them carries a
    ``preference``: the reason why it is the one that is used.
    """

    key: str
    source: str
    basis: Basis
    condition: str = ""
    preference: str = ""
