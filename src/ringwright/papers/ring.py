"""The ring and its tree as pictures on the cards, with their main dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ringwright.papers.blocks import Block
from ringwright.papers.generic import found
from ringwright.papers.views import ABOVE, ASLANT, MARGIN_MM, SIDE, THROUGH, Direction, View, views
from ringwright.terms.body import Body, Mesh, Role
from ringwright.terms.outcome import Outcome
from ringwright.terms.piece import Piece, PieceFigures, seated
from ringwright.terms.tree import TreeFigures
from ringwright.words.numbers import number

_PAGE_MM = 175.0
_UPRIGHT = Direction("upright", (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
_SCALES = (1.75, 1.5, 1.25, 1.0, 0.75, 0.5)
_NO_PAD: dict[str, float] = {"left": 0, "right": 0, "top": 0, "bottom": 0}
_CAPTIONS = {THROUGH.name: "Through the finger", SIDE.name: "From the side", ABOVE.name: "From above"}


def bodies(making: Any) -> tuple[Body, ...]:
    """Metal and stones in the ring's frame: stones as the setting placed them, else as drawn or seated."""
    ring = getattr(making, "ring", None)
    own = ring.bodies if isinstance(ring, Piece) else _of(making, "piece")
    metal = [body for body in own if body.role is Role.METAL]
    stones = {body.name: body for body in own if body.role is Role.STONE}
    if isinstance(ring, Piece):
        cut = [body for body in _of(making, "gems") if body.role is Role.STONE]
        for body, seat in zip(cut, ring.seats, strict=False):
            stones.setdefault(body.name, replace(body, mesh=seated(body.mesh, seat)))
    placed = {body.name: body for body in _of(making, "setting") if body.role is Role.STONE}
    return (*metal, *(placed or stones).values()) if metal else ()


def _of(making: Any, step: str) -> tuple[Body, ...]:
    outcome = getattr(making, step, None)
    return outcome.bodies if isinstance(outcome, Outcome) else ()


def pictures(making: Any) -> dict[str, View]:
    """The ring from four sides, by file name; nothing where no ring is drawn."""
    seen = views(bodies(making), (THROUGH, SIDE, ABOVE, ASLANT))
    return {f"ring-{view.name.split()[-1]}.svg": view for view in seen}


def dimensioned(making: Any, seen: dict[str, View]) -> tuple[Block, ...]:
    """Three views beside one another at one scale, with the main dimensions; nothing where there is no picture."""
    named = {view.name: (file, view) for file, view in seen.items()}
    if THROUGH.name not in named:
        return ()
    figures = found(making, "piece", PieceFigures)
    drawn = []
    for direction in (THROUGH, SIDE, ABOVE):
        file, view = named[direction.name]
        dims, pad = _dimensions(direction.name, view, figures)
        drawn.append(_data(file, view, pad, dims, _CAPTIONS[direction.name]))
    pads = sum(one["pad"]["left"] + one["pad"]["right"] for one in drawn) + 12
    widths = sum(one["width"] for one in drawn)
    scale = next((s for s in _SCALES if widths * s + pads <= _PAGE_MM), _SCALES[-1])
    told = f"drawn {scale:g} : 1" if scale >= 1 else f"drawn 1 : {1 / scale:.2g}"
    drawn[0]["caption"] += f", {told}"
    return ({"kind": "views", "views": drawn, "scale": scale},)


def plain_view(seen: dict[str, View], name: str, width_mm: float, height_mm: float) -> tuple[Block, ...]:
    """One view without dimensions, as large as it fits into a frame."""
    for file, view in seen.items():
        if view.name == name:
            scale = min(width_mm / view.width_mm, height_mm / view.height_mm, 3.0)
            return ({"kind": "views", "views": [_data(file, view, _NO_PAD, [], "")], "scale": scale},)
    return ()


def files(seen: dict[str, View], *blocks: Any) -> dict[str, bytes]:
    """Those pictures that the blocks name."""
    told = repr(blocks)
    return {file: view.png for file, view in seen.items() if f"'{file}'" in told}


def _data(file: str, view: View, pad: dict[str, float], dims: Sequence[Block], caption: str) -> Block:
    return {
        "file": file, "left": view.left_mm, "bottom": view.bottom_mm, "width": view.width_mm,
        "height": view.height_mm, "pad": pad, "dims": list(dims), "caption": caption, "alt": f"The ring {view.name}",
    }  # fmt: skip


def _dimensions(name: str, view: View, figures: PieceFigures | None) -> tuple[list[Block], dict[str, float]]:
    """The dimension lines of one view, and the room on the page that they take."""
    if figures is None:
        return [], dict(_NO_PAD)
    radius = figures.hole_diameter_mm / 2
    left, right = view.left_mm + MARGIN_MM, view.left_mm + view.width_mm - MARGIN_MM
    bottom, top = view.bottom_mm + MARGIN_MM, view.bottom_mm + view.height_mm - MARGIN_MM
    if name == THROUGH.name:
        dims = [
            _dim("h", (-radius, 0.0), (radius, 0.0), 0.0, f"⌀ {number(figures.hole_diameter_mm, 2)}"),
            _dim("v", (right, bottom), (right, top), 5.0, number(top - bottom, 1)),
        ]
        return dims, {"left": 0, "right": 9, "top": 1, "bottom": 10}
    if name == SIDE.name:
        half = figures.band_width_mm / 2
        dims = [
            _dim("h", (-half, bottom), (half, bottom), 4.5, number(figures.band_width_mm, 2)),
            _dim("v", (right, radius), (right, top), 5.0, number(figures.height_mm, 2)),
        ]
        return dims, {"left": 5, "right": 13, "top": 1, "bottom": 10}
    dims = [
        _dim("h", (left, bottom), (right, bottom), 4.5, number(right - left, 1)),
        _dim("v", (right, bottom), (right, top), 5.0, number(top - bottom, 1)),
    ]
    return dims, {"left": 2, "right": 9, "top": 0, "bottom": 10}


def _dim(along: str, start: tuple[float, float], end: tuple[float, float], offset: float, label: str) -> Block:
    return {"along": along, "from": list(start), "to": list(end), "offset": offset, "label": label}


def in_flask(making: Any) -> tuple[tuple[Block, ...], dict[str, bytes]]:
    """The tree in its flask, to scale, with its clearances, and its picture; nothing where there is no tree."""
    tree = found(making, "tree", TreeFigures)
    solid = next((body for body in _of(making, "tree") if body.role is Role.TREE), None)
    if tree is None or solid is None:
        return (), {}
    turned = Body(solid.name, Role.METAL, _widest(solid.mesh))
    view = views([turned], [_UPRIGHT], 12)[0]
    block = {
        "kind": "flask", "file": "tree.svg", "alt": "The tree in its flask, as it is poured", "left": view.left_mm,
        "bottom": view.bottom_mm, "width": view.width_mm, "height": view.height_mm,
        "diameter": tree.flask_diameter_mm, "depth": tree.flask_height_mm,
        "wall": number(tree.wall_clearance_mm, 1), "end": number(tree.end_clearance_mm, 1),
        "lowest": view.bottom_mm + MARGIN_MM, "widest": max(-view.left_mm, view.left_mm + view.width_mm) - MARGIN_MM,
        "scale": (scale := min(1.0, 66.0 / tree.flask_height_mm, 66.0 / tree.flask_diameter_mm)),
        "told": f"As it is poured, rim up; drawn {scale:.2g} : 1",
    }  # fmt: skip
    return (block,), {"tree.svg": view.png}


def _widest(mesh: Mesh) -> Mesh:
    """The tree turned about the flask's axis so that its widest side faces the reader."""
    flat = mesh.vertices_mm[:, :2]
    spread = np.cov(flat.T)
    across = np.linalg.eigh(spread)[1][:, -1]
    if across[np.argmax(np.abs(across))] < 0:
        across = -across
    x, y = float(across[0]), float(across[1])
    return mesh.moved(np.array([[x, y, 0.0], [-y, x, 0.0], [0.0, 0.0, 1.0]]), np.zeros(3))
