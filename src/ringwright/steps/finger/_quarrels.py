"""Where published tables of sizes quarrel with the systems' own rules, and by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from ringwright.steps.finger._sizes import circumference_of, labels, number_of, part_mm, read_size, written
from ringwright.terms.facts import used
from ringwright.terms.finger import Disagreement, SizeChartFact, SizeRows, SizeSystemFact

_PRINTED_TO_MM = math.pi * 0.1 / 2
"""Tables print diameters to a tenth of a millimetre: what this rounds away, on the circumference, is no quarrel."""


def disagreements(text: str, system: str | None, rows: SizeRows) -> tuple[Disagreement, ...]:
    """Every published table that says otherwise of the size ``text``, the greatest difference first.

    A table's row speaks of the size where its own size, or the one that it prints beside, is that size. What it
    prints (millimetres, and sizes of other systems, turned into millimetres by their own rules) is set against
    the size's own circumference. Raises :class:`~ringwright.terms.mistake.BadInput` for what is no size.
    """
    number, chosen = read_size(text, system, rows)
    found = [
        one
        for row in rows.charts
        if _speaks_of(row, number, chosen, rows)
        for one in _differences(row, number, chosen, rows)
    ]
    found += _other_rules(number, chosen, rows)
    return tuple(sorted(found, key=lambda one: -round(abs(one.difference_mm), 6)))


def _other_rules(number: Fraction, system: SizeSystemFact, rows: SizeRows) -> Iterator[Disagreement]:
    """Rules of the same system from other sources, which are not the ones used."""
    own = circumference_of(number, system)
    for other in rows.systems:
        difference = circumference_of(number, other) - own if other.key == system.key else 0.0
        if abs(difference) > _PRINTED_TO_MM:
            yield Disagreement(
                chart=other.title,
                size=f"{system.key} {written(number, system)}",
                theirs=f"circumference {own + difference:.2f} mm",
                ours=f"circumference {own:.2f} mm",
                difference_mm=difference,
                other_label=abs(difference) > part_mm(system) / 2,
                source=other.source,
            )


def _printed(row: SizeChartFact) -> dict[str, str]:
    """Every size that the row prints, by its system, in the order in which the quarrels are told."""
    return {row.system: row.size, **(row.same_as or {})}


def _speaks_of(row: SizeChartFact, number: Fraction, system: SizeSystemFact, rows: SizeRows) -> bool:
    size = _printed(row).get(system.key)
    return size is not None and number_of(size, used(rows.systems, system.key)) == number


def _differences(
    row: SizeChartFact, number: Fraction, system: SizeSystemFact, rows: SizeRows
) -> Iterator[Disagreement]:
    """What one row prints that differs by more than printing rounds away."""
    own = circumference_of(number, system)
    ours = labels(own, rows)
    size = f"{system.key} {_printed(row)[system.key]}"
    said: list[tuple[str, str, float, float]] = []
    if row.inner_circumference_mm is not None:
        theirs = row.inner_circumference_mm
        said.append((f"circumference {theirs:g} mm", f"circumference {own:.2f} mm", theirs, part_mm(system)))
    if row.inner_diameter_mm is not None:
        theirs = row.inner_diameter_mm
        mine = f"diameter {ours.inner_diameter_mm:.2f} mm"
        said.append((f"diameter {theirs:.4g} mm", mine, theirs * math.pi, part_mm(system)))
    for key, other in _printed(row).items():
        if key != system.key:
            line = used(rows.systems, key)
            theirs = circumference_of(number_of(other, line), line)
            said.append((f"{key} {other}", f"{key} {ours.labels[key].label}", theirs, part_mm(line)))
    for their_words, our_words, theirs, part in said:
        difference = theirs - own
        if abs(difference) > _PRINTED_TO_MM:
            yield Disagreement(
                chart=row.chart,
                size=size,
                theirs=their_words,
                ours=our_words,
                difference_mm=difference,
                other_label=abs(difference) > part / 2,
                source=row.source,
            )
