"""Rows by the names that people use: a row's key or any of its other names."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar

from ringwright.terms.mistake import bad


class _Named(Protocol):
    """A row with a key, other names, and perhaps the reason why it is the one that is used."""

    @property
    def key(self) -> str: ...

    @property
    def also(self) -> tuple[str, ...]: ...

    @property
    def preference(self) -> str: ...


N = TypeVar("N", bound=_Named)


def by_name(rows: Iterable[N], name: str, what: str, where: str) -> N:
    """The row whose key or other name is ``name``, capitals and spaces around it aside.

    Raises :class:`~ringwright.terms.mistake.BadInput` at ``where`` with the nearest known name.
    """
    import difflib

    rows = tuple(rows)
    asked = " ".join(name.lower().split())
    found = [row for row in rows if asked == row.key or asked in row.also]
    if found:
        return next((row for row in found if row.preference), found[0])
    names = {n: row.key for row in rows for n in (row.key, *row.also)}
    near = difflib.get_close_matches(asked, names, n=1, cutoff=0.5)
    known = ", ".join(sorted({row.key for row in rows}))
    raise bad(where, f"no {what} is called '{name}'", f"did you mean '{near[0]}'?" if near else f"known: {known}")
