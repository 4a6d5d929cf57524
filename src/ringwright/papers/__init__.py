"""What is written for people and for other programs: dossier, quote, cards, solids."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from ringwright.terms.progress import Aside, InTurn

Files = dict[str, bytes]
"""Files of a dossier: name within its folder to content."""

PICTURE = "ring.png"
"""The ring seen aslant, small, for a listing and for the first page of the app."""


def files_of(making: Any, stamp: dt.datetime, aside: Aside = InTurn) -> Files:
    """Every file of the dossier of a making; the same making and stamp give the same bytes.

    ``making`` is a :class:`ringwright.terms.making.Making`. ``dossier.json`` comes last and lists the others. Solids
    and fields are written ``aside`` while the papers are set.
    """
    from ringwright.papers.dossier import dossier
    from ringwright.papers.plain import json_bytes

    parts: tuple[Part, ...] = (_solids, _fields, _voxels)
    meanwhile = aside(lambda: (part(making, stamp) for part in parts))
    found = _pdfs(making, stamp)
    for _ in parts:
        found |= meanwhile.next()
    found["dossier.json"] = json_bytes(dossier(making, stamp, tuple(sorted(found))))
    return found


Part = Callable[[Any, dt.datetime], Files]
"""A part of a dossier: a function from making and stamp to files. A new paper is a new part in :func:`files_of`."""


def _solids(making: Any, _stamp: dt.datetime) -> Files:
    """The scaled pattern as STL and 3MF, the ring with its stones as GLB and as a picture, the tree as GLB."""
    from ringwright.papers.dossier import outcomes
    from ringwright.papers.meshfiles import glb, stl, threemf
    from ringwright.papers.views import ASLANT, views
    from ringwright.terms.body import Role

    found: Files = {}
    bodies = {step.name: outcome.bodies for step, outcome in outcomes(making)}
    patterns = [body for body in bodies.get("pattern", ()) if body.role is Role.PATTERN]
    title = f"{making.commission.commission.number} {making.commission.commission.title}"
    if patterns:
        found["pattern.3mf"] = threemf(patterns, f"{title}, pattern")
    for number, body in enumerate(patterns):
        found["pattern.stl" if number == 0 else f"pattern-{number + 1}.stl"] = stl(body.mesh)
    ring = {body.name: body for name in ("piece", "setting") for body in bodies.get(name, ())}
    shown = [body for body in ring.values() if body.role in (Role.METAL, Role.STONE)]
    if shown:
        found["ring.glb"] = glb(shown)
        found[PICTURE] = views(shown, [ASLANT])[0].png
    if tree := [body for body in bodies.get("tree", ()) if body.role is Role.TREE]:
        found["tree.glb"] = glb(tree)
    return found


def _voxels(making: Any, _stamp: dt.datetime) -> Files:
    """What a step found on a regular grid, as a volume for general viewers: ``fields/pour.vti``."""
    from ringwright.papers.dossier import outcomes
    from ringwright.papers.voxelfiles import vti

    return {f"fields/{step.name}.vti": vti(outcome.voxels) for step, outcome in outcomes(making) if outcome.voxels}


def _fields(making: Any, _stamp: dt.datetime) -> Files:
    """Each figure on a body as a GLB in colours: ``fields/wear-stress.glb``."""
    from ringwright.papers.dossier import outcomes
    from ringwright.papers.meshfiles import glb

    found: Files = {}
    bodies = {body.name: body for _, outcome in outcomes(making) for body in outcome.bodies}
    for step, outcome in outcomes(making):
        own = {body.name: body for body in outcome.bodies}
        for field in outcome.fields:
            body = own.get(field.body) or bodies.get(field.body)
            if body is not None and len(body.mesh.vertices_mm) == len(field.values):
                found[f"fields/{step.name}-{field.name}.glb"] = glb([body], field)
    return found


def _pdfs(making: Any, stamp: dt.datetime) -> Files:
    """The papers to be printed: the cards for the bench, the offer for the client, the certificate for the ring."""
    from ringwright.papers.pdf import pdfs

    return pdfs(making, stamp)
