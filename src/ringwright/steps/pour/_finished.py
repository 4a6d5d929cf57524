"""What the pour found in the cells, on the finished ring: before stock is taken off it is a little larger."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.steps.pour._cavity import Cavity
from ringwright.terms.body import Field, Floats, Ints, Mesh


@dataclass(frozen=True, eq=False, kw_only=True)
class Finished:
    """The finished metal of a piece, a body called ``body`` in the piece's frame; its pattern is ``scale`` times it."""

    piece: str
    body: str
    mesh: Mesh
    scale: float


def cells_of(made: Cavity, finished: Finished) -> Ints:
    """For every vertex of the finished metal the nearest cell of its piece."""
    pose = next(p for p in made.figures.poses if p.piece == finished.piece)
    number = next(n for n, p in enumerate(made.pieces) if p.name == finished.piece)
    at = pose.to_flask(finished.mesh.vertices_mm * finished.scale)
    own = np.flatnonzero(made.piece == number)
    centre = made.network.centre_mm
    known = np.full(made.shape, -1, np.int64)
    known[tuple(_cell(made, centre[own]).T)] = own
    found: Ints = known[tuple(_cell(made, at).T)]
    bare = np.flatnonzero(found < 0)
    if len(bare):
        from scipy.spatial import cKDTree

        found[bare] = own[cKDTree(centre[own]).query(at[bare], workers=2)[1]]
    return found


def _cell(made: Cavity, at: Floats) -> Ints:
    found: Ints = np.floor((at - np.array(made.corner_mm)) / made.h_mm).astype(np.int64)
    return np.clip(found, 0, np.array(made.shape) - 1)


def on_finished(
    made: Cavity, finished: Finished, given: tuple[tuple[str, str, str, Floats, bool], ...]
) -> tuple[Field, ...]:
    """Figures of the cells (name, title, unit, values, whether low is bad) at the vertices of the finished metal."""
    which = cells_of(made, finished)
    fields = []
    for name, title, unit, values, low_is_bad in given:
        seen = values[which].astype(np.float64)
        seen[~np.isfinite(seen)] = np.nan
        fields.append(
            Field(f"{finished.body}-{name}", f"{title}, on the ring", unit, finished.body, seen, low_is_bad=low_is_bad)
        )
    return tuple(fields)
