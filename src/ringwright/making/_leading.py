"""The search for the way to lead the metal in: the tree proposes, the pour judges, and the best is taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from ringwright.steps import pour, tree
from ringwright.terms.mistake import BadInput
from ringwright.terms.outcome import Outcome
from ringwright.terms.pour import Variant
from ringwright.terms.progress import Keep, Progress, part_of, silent
from ringwright.terms.tree import TreeFigures, TreePiece, Way
from ringwright.terms.workshop import Flask

_COARSER = 1.5
"""Cells of the runs that judge, against those of the quick pour."""


@dataclass(frozen=True, eq=False)
class Searched:
    """The tree that was chosen, all that were judged, and why it is this one."""

    grown: Outcome[TreeFigures]
    variants: tuple[Variant, ...]
    why: str


def lead(
    keep: Keep,
    grown: Outcome[TreeFigures],
    pieces: tuple[TreePiece, ...],
    tree_how: dict[str, Any],
    pour_how: dict[str, Any],
    flasks: tuple[Flask, ...],
    *,
    thorough: bool,
    progress: Progress = silent,
) -> tuple[Outcome[TreeFigures], dict[str, Any]]:
    """The tree by the rules, or with ``thorough`` the best that is found; and what the pour must know of the search.

    Where the first cannot be poured at all it stays, and the pour says why.
    """
    found = Searched(grown, (), "")
    if thorough:
        with suppress(BadInput):
            how = partial(search, progress=progress)
            found = keep("tree", how, grown, pieces, tree_how, pour_how, flasks)
    return found.grown, {"thorough": thorough, "variants": found.variants, "led_why": found.why}


def search(
    grown: Outcome[TreeFigures],
    pieces: tuple[TreePiece, ...],
    tree_how: dict[str, Any],
    pour_how: dict[str, Any],
    flasks: tuple[Flask, ...],
    progress: Progress = silent,
) -> Searched:
    """Every way that the tree names, built and judged at one setting; then, where the best leaves a pore that counts,
    the same with a blind feeder at it and with one more gate at it; then other sprues on what is best.

    ``tree_how`` and ``pour_how`` are what ``tree.build`` and ``pour.cast`` take besides trees and pieces. The setting
    is the one that a quick pour of the first tree proposes. Gates that the maker gave stay; their sprues are tried.
    What fits no flask or crucible of the shop is not chosen where another does; the shop's usual setting is judged
    beside.

    Raises :class:`BadInput` where the first tree cannot be poured at all.
    """
    progress(0.0, "tree: a quick pour of the first tree")
    perforated = {flask.name for flask in flasks if flask.perforated}
    quick = pour.cast(
        grown.body("tree").mesh,
        grown.result,
        pieces,
        perforated=grown.result.flask in perforated,
        progress=part_of(progress, 0.0, 0.15),
        **pour_how,
    ).result
    given = {key: pour_how[key] for key in ("alloy", "investment", "plant", "rows")}
    studied = [tree.study(piece.pattern, piece.hole_diameter_mm) for piece in pieces]

    def judged(way: Way, made: Outcome[TreeFigures], **other: Any) -> Variant:
        led = pour.Led(
            what=way.what,
            tree=made.body("tree").mesh,
            figures=made.result,
            way=way,
            perforated=made.result.flask in perforated,
        )
        at = {"flask_C": quick.flask_C, "melt_C": quick.melt_C, "h_mm": _COARSER * quick.h_mm}
        return pour.judge(led, pieces, **(at | other), **given)

    built: list[tuple[Way, Outcome[TreeFigures], Variant]] = []

    def tried(ways: Sequence[Way], start: float, end: float) -> None:
        for n, way in enumerate(ways):
            progress(start + (end - start) * n / max(len(ways), 1), f"tree: {way.what}, judged by freezing")
            try:
                made = grown if way is first else tree.build(pieces, way=way, studied=studied, **tree_how)
            except BadInput:
                continue  # no fork reaches these gates, or the named flask does not hold this tree: not a way
            built.append((way, made, judged(way, made)))

    first = grown.result.ways[0]
    tried(grown.result.ways, 0.15, 0.60)
    at, way, made, _ = _best(built, grown.result, pour_how)
    tried(_helped(built[at], pieces[0], studied[0], tree_how, pour_how), 0.60, 0.70)
    _, way, made, _ = _best(built, grown.result, pour_how)
    sprues = tree.sprues_of(way, made.result, tree_how["habits"], tree_how["alloy"], tree_how["rules"])
    tried(sprues, 0.70, 0.95)
    at, way, made, why = _best(built, grown.result, pour_how)
    variants = [replace(one, chosen=n == at) for n, (_, _, one) in enumerate(built)]
    if quick.habit is not None:
        progress(0.95, "tree: the shop's usual setting")
        usual = judged(first, grown, flask_C=quick.habit.flask_C, melt_C=quick.habit.melt_C)
        variants.append(replace(usual, what=f"as usual in this shop: {first.what}", usual=True))
    if way is not first:
        made = replace(made, result=replace(made.result, ways=grown.result.ways))
    return Searched(made, tuple(variants), why)


def _helped(
    best: tuple[Way, Outcome[TreeFigures], Variant],
    piece: TreePiece,
    studied: tree.Studied,
    tree_how: Mapping[str, Any],
    pour_how: Mapping[str, Any],
) -> tuple[Way, ...]:
    """The best way with a feeder, and with one more gate, at its largest pore; none where that does not count."""
    way, made, found = best
    if found.worst_mm is None or not pour.counts(found, pour_how["rows"]):
        return ()
    given = {key: tree_how[key] for key in ("alloy", "rules", "clearances")}
    return tree.helped(way, made.result, piece, studied, found.worst_mm, **given)


def _best(
    built: Sequence[tuple[Way, Outcome[TreeFigures], Variant]], first: TreeFigures, pour_how: Mapping[str, Any]
) -> tuple[int, Way, Outcome[TreeFigures], str]:
    """The best of those that fit the shop as well as the first does."""
    fits = [
        n
        for n, (_, made, _) in enumerate(built)
        if (made.result.flask is not None or first.flask is None)
        and (made.result.crucible is not None or first.crucible is None)
    ]
    at, why = pour.best([built[n][2] for n in fits], pour_how["rows"])
    way, made, _ = built[fits[at]]
    return fits[at], way, made, why
