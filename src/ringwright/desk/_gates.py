"""The maker's own gates, shown on the ring and put into the brief, which says them in the model's coordinates."""

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
    """A gate on the ring: its place in the ring's frame and at the ring's own size, and why it stands there."""

    point_mm: Point
    why: str


def gates_of(data: dict[str, Any]) -> tuple[GateShown, ...]:
    """The gates that a making's tree has; none where it has no tree. ``data`` are those of ``dossier.json``."""
    steps = data["steps"]
    if not {"tree", "pattern"} <= steps.keys():
        return ()
    scale = (steps["pattern"]["result"].get("scale_percent") or 100.0) / 100.0
    found = []
    for gate in steps["tree"]["result"].get("gates", ()):
        x, y, z = (float(part) / scale for part in gate["point_mm"])
        found.append(GateShown((x, y, z), gate["why"]))
    return tuple(found)


def with_gates(text: str, name: str, data: dict[str, Any], points_mm: Sequence[Point]) -> str:
    """A commission's text with its gates at those places of the ring, or with none, so that they are proposed.

    ``points_mm`` are in the ring's frame, as ``data`` (of ``dossier.json``) has found it in the model; the text gets
    them in the model's coordinates, its comments and order stay. Raises ``BadInput`` where that cannot be.
    """
    if len(points_mm) > MOST_GATES:
        raise bad("tree.gates", f"there are {len(points_mm)}", f"at most {MOST_GATES}")
    points = np.array(points_mm, dtype=np.float64).reshape(-1, 3)
    if not np.isfinite(points).all() or (np.abs(points) > _FARTHEST_MM).any():
        raise bad("tree.gates", "a place lies far off the ring", "choose it on the ring")
    order = commission_in(text, name)
    turned = _placement(data).to_model(points) if len(points) else points
    gates = tuple((float(x), float(y), float(z)) for x, y, z in np.round(turned, _DIGITS) + 0.0)
    new = edited(text, name, replace(order, tree=replace(order.tree, gates_mm=gates)))
    return new if gates else _without_gates(new)


def _without_gates(text: str) -> str:
    """The text without an empty list of gates, nor a table that has nothing else."""
    import tomlkit

    document = tomlkit.parse(text)
    tree = document.get("tree")
    if tree is not None:
        tree.pop("gates", None)
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
