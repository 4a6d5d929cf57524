"""Which flask takes the tree, and how the pieces hang in it."""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ringwright.steps.tree.fork import on_one
from ringwright.steps.tree.layout import Hung, Part, Sizes
from ringwright.steps.tree.mould import flask_cm3, smallest
from ringwright.steps.tree.sizing import Needs, rule_of
from ringwright.steps.tree.trunk import on_trunk
from ringwright.terms.mistake import bad
from ringwright.terms.tree import SprueRule
from ringwright.terms.workshop import Flask

_MOST_IN_A_TIER = 8


@dataclass(frozen=True, eq=False)
class Room:
    """A way to hang the pieces and the flask for it: of the shop, or the least one that would do."""

    hung: Hung
    flask: Flask | None
    diameter_mm: float
    height_mm: float
    shortened: bool


def named_flask(name: str | None, flasks: Sequence[Flask]) -> Flask | None:
    """The flask of that name, or None if none was named. Raises :class:`BadInput` with the nearest name."""
    if name is None:
        return None
    for one in flasks:
        if one.name == name:
            return one
    near = difflib.get_close_matches(name, [f.name for f in flasks], n=1, cutoff=0.4)
    known = ", ".join(f.name for f in flasks) or "none"
    raise bad(
        "tree.flask",
        f"the workshop has no flask '{name}'",
        f"did you mean '{near[0]}'?" if near else f"it has: {known}",
    )


def room_for(
    parts: Sequence[Part],
    pieces_mm3: float,
    sizes: Sizes,
    needs: Needs,
    flasks: Sequence[Flask],
    named: Flask | None,
    rules: Sequence[SprueRule],
) -> Room:
    """The smallest flask that takes the pieces in some way of hanging them; shorter sprues where nothing else helps."""
    least = min(sizes.length_mm, rule_of(rules, "length").least_mm or sizes.length_mm)
    smallest_of: dict[float, tuple[float, Hung]] = {}
    for length in dict.fromkeys((sizes.length_mm, least)):
        fits = []
        for hung in _ways(parts, replace(sizes, length_mm=length)):
            across, high = needs.room(hung, pieces_mm3)
            size = flask_cm3(across, high)
            if length not in smallest_of or size < smallest_of[length][0]:
                smallest_of[length] = size, hung
            flask = smallest([named] if named is not None else flasks, across, high)
            if flask is not None:
                fits.append((flask_cm3(flask.diameter_mm, flask.height_mm), flask, hung))
        if fits:
            _, flask, hung = min(fits, key=lambda f: f[0])
            return Room(hung, flask, flask.diameter_mm, flask.height_mm, length < sizes.length_mm)
    hung = smallest_of[sizes.length_mm if named is None else least][1]
    across, high = (math.ceil(x - 1e-9) for x in needs.room(hung, pieces_mm3))
    if named is None:
        return Room(hung, None, across, high, shortened=False)
    other = smallest(flasks, across, high)
    raise bad(
        "tree.flask",
        f"the flask '{named.name}' ({named.diameter_mm:.0f} × {named.height_mm:.0f} mm) is too small: the tree needs "
        f"{across:.0f} × {high:.0f} mm",
        f"'{other.name}' of the workshop would do" if other else "the workshop has none that would do",
    )


def _ways(parts: Sequence[Part], sizes: Sizes) -> list[Hung]:
    if len(parts) == 1:
        return [_alone(parts[0], sizes)]
    ways = [on_trunk(parts, n, sizes) for n in range(1, min(len(parts), _MOST_IN_A_TIER) + 1)]
    found = [way for way in ways if way is not None]
    if not found:
        raise bad(
            "tree",
            f"{len(parts)} pieces do not hang on one trunk without touching",
            "gates on the outside of each piece, or a flask for each",
        )
    return found


def _alone(part: Part, sizes: Sizes) -> Hung:
    """One piece on all its gates; on the best single one where a fork to those proposed would touch or be too long."""
    way = on_one(part, sizes)
    if part.own_gates:
        if way is None:
            raise bad(
                f"tree.gates of {part.name}",
                f"no fork reaches its {len(part.gates)} gates without touching the piece",
                "gates that face away from each other by no more than a right angle, or one gate",
            )
        return way
    if (way is None or way.length_mm > sizes.longest_mm) and part.single is not None:
        way = on_one(replace(part, gates=(part.single,)), sizes)
    assert way is not None
    return way
