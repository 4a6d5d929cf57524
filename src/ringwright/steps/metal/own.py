"""The shop's own alloys, from its suppliers' sheets, beside those of the facts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace
from typing import Any

from ringwright.terms.alloy import AlloyFact
from ringwright.terms.fact import Basis
from ringwright.terms.facts import used
from ringwright.terms.metal import OwnAlloy
from ringwright.terms.mistake import BadInput, Mistake

_SAME = {field.name for field in fields(OwnAlloy)} & {field.name for field in fields(AlloyFact)} - {"composition"}


def with_own(alloys: Iterable[AlloyFact], own: Iterable[OwnAlloy]) -> tuple[AlloyFact, ...]:
    """The alloys of the facts with the shop's own; an own alloy of the same name is preferred to the facts' rows.

    What an own alloy leaves open is as in the alloy that it is ``like``; where it states a composition of its own,
    only the figures that it states itself are taken over, because those of another composition would be wrong.

    Raises ``BadInput`` for names given twice and a ``like`` that is not in the facts.
    """
    rows, own = tuple(alloys), tuple(own)
    names = [one.name for one in own]
    faults = [
        Mistake(f"alloy '{name}'", "it is given twice", "a name of its own for each alloy")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    ]
    if faults:
        raise BadInput(*faults)
    made = tuple(_row(one, used(rows, one.like, "alloy")) for one in own)
    others = (replace(row, preference="") if row.key in names else row for row in rows)
    return (*made, *others)


def _row(one: OwnAlloy, like: AlloyFact) -> AlloyFact:
    """The own alloy as a row of the facts."""
    stated: dict[str, Any] = {name: value for name in _SAME if (value := getattr(one, name)) is not None}
    if one.composition:
        emptied: dict[str, Any] = {field.name: None for field in fields(AlloyFact) if field.default is None}
        main = max(like.composition, key=lambda s: like.composition[s])
        like = replace(
            like,
            **emptied,
            composition={symbol: share / 10 for symbol, share in one.composition.items()},
            fineness_permille=one.composition.get(main, like.fineness_permille),
        )
    return replace(
        like,
        **stated,
        key=one.name,
        source="the workshop's own sheet" + ("" if one.composition else f"; the rest as {like.key}: {like.source}"),
        basis=Basis.MAKERS_SHEET,
        condition="",
        preference="the workshop's own figures come first",
    )
