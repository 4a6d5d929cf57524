"""The maker's own gates and blind feeders, shown on the ring and put into the brief, which says them in the model's
coordinates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ringwright.desk.reading import commission_in
from ringwright.desk.writing import edited
from ringwright.terms.mistake import bad
from ringwright.terms.piece import Placement
from ringwright.terms.remark import Point

MOST_GATES = 12
"""More are no tree but a mistake."""

_FARTHEST_MM = 200.0
_DIGITS = 3


@dataclass(frozen=True)
class GateShown:
    """A gate or feeder on the ring: its place in the ring's frame and at the ring's own size, and why it is there."""

    point_mm: Point
    why: str


def gates_of(data: dict[str, Any]) -> tuple[GateShown, ...]:
    """The gates that a making's tree has; none where it has no tree. ``data`` are those of ``dossier.json``."""
    return _shown(data, "gates")


def feeders_of(data: dict[str, Any]) -> tuple[GateShown, ...]:
    """The blind feeders that a making's tree has, likewise."""
    return _shown(data, "feeders")


def _shown(data: dict[str, Any], what: str) -> tuple[GateShown, ...]:
    steps = data["steps"]
    if not {"tree", "pattern"} <= steps.keys():
        return ()
    scale = (steps["pattern"]["result"].get("scale_percent") or 100.0) / 100.0
    found = []
    for gate in steps["tree"]["result"].get(what, ()):
        x, y, z = (float(part) / scale for part in gate["point_mm"])
        found.append(GateShown((x, y, z), gate["why"]))
    return tuple(found)


def with_gates(
    text: str, name: str, data: dict[str, Any], points_mm: Sequence[Point], feeders_mm: Sequence[Point] = ()
) -> str:
    """A commission's text with its gates at those places of the ring, or with none, so that they are proposed; and
    with blind feeders at those places.

    ``points_mm`` and ``feeders_mm`` are in the ring's frame, as ``data`` (of ``dossier.json``) has found it in the
    model; the text gets them in the model's coordinates, its comments and order stay. Raises ``BadInput`` where that
    cannot be.
    """
    order = commission_in(text, name)
    gates, feeders = _in_model(data, "tree.gates", points_mm), _in_model(data, "tree.feeders", feeders_mm)
    new = edited(text, name, replace(order, tree=replace(order.tree, gates_mm=gates, feeders_mm=feeders)))
    return _without_empty(new, [key for key, points in (("gates", gates), ("feeders", feeders)) if not points])


def _in_model(data: dict[str, Any], where: str, points_mm: Sequence[Point]) -> tuple[Point, ...]:
    """Places of the ring in the model's coordinates. Raises ``BadInput`` for too many, or one far off."""
    if len(points_mm) > MOST_GATES:
        raise bad(where, f"there are {len(points_mm)}", f"at most {MOST_GATES}")
    points = np.array(points_mm, dtype=np.float64).reshape(-1, 3)
    if not np.isfinite(points).all() or (np.abs(points) > _FARTHEST_MM).any():
        raise bad(where, "a place lies far off the ring", "choose it on the ring")
    turned = _placement(data).to_model(points) if len(points) else points
    return tuple((float(x), float(y), float(z)) for x, y, z in np.round(turned, _DIGITS) + 0.0)


def _without_empty(text: str, keys: Sequence[str]) -> str:
    """The text without those lists of the tree, nor a table that has nothing else."""
    import tomlkit

    document = tomlkit.parse(text) if keys else None
    tree = document.get("tree") if document is not None else None
    if document is None:
        return text
    if tree is not None:
        for key in keys:
            tree.pop(key, None)
        if not tree:
            del document["tree"]
    return tomlkit.dumps(document)


def _placement(data: dict[str, Any]) -> Placement:
    """How the model was turned into the ring's frame: from the finger's axis, the head and the hole's centre in it."""
    told = data["steps"].get("piece", {}).get("result", {})
    axis, head, centre = (told.get(name) for name in ("hole_axis", "head_axis", "hole_centre_mm"))
    if not axis or not head or not centre:
        raise bad("dossier", "it does not say how the model lies", "work the commission through anew")
    z, y = np.array(axis, dtype=np.float64), np.array(head, dtype=np.float64)
    rotation = np.stack([np.cross(y, z), y, z])
    shift = -rotation @ np.array(centre, dtype=np.float64)
    one, two, three, moved = ((float(a), float(b), float(c)) for a, b, c in (*rotation, shift))
    return Placement((one, two, three), moved)
