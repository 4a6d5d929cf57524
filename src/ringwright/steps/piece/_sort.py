"""Which bodies are metal and which are stones: by what they are called and made of, else by their shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringwright.science import solids
from ringwright.terms.body import Mesh, Role

STONE_WORDS = frozenset({
    "stone", "gem", "diamond", "brilliant", "ruby", "sapphire", "emerald", "topaz", "amethyst", "citrine",
    "quartz", "garnet", "spinel", "opal", "tourmaline", "aquamarine", "morganite", "beryl", "peridot",
    "tanzanite", "zircon", "zirconia", "moissanite", "pearl", "turquoise", "onyx", "agate", "moonstone",
    "alexandrite", "chrysoberyl", "tsavorite", "corundum", "crystal", "melee",
})  # fmt: skip
METAL_WORDS = frozenset({
    "metal", "gold", "silver", "platinum", "palladium", "alloy", "shank", "ring", "band", "claw", "prong",
    "bezel", "head", "setting", "gallery", "basket", "signet", "collet", "rail", "bridge",
})  # fmt: skip

FLAT_DEG = 1.5
"""Faces whose normals differ by less lie in one facet."""
CONVEX = 0.985
"""Volume over that of the hull from which a body counts as convex."""


@dataclass(frozen=True)
class Guess:
    """What a body is, and why."""

    role: Role
    why: str
    named: bool


def sorted_out(mesh: Mesh, name: str, material: str) -> Guess:
    """Metal or stone. A name or a material that says so is believed; else a cut stone is told by its shape."""
    words = _words(f"{name} {material}")
    stone = next((word for word in words if word in STONE_WORDS), "")
    metal = next((word for word in words if word in METAL_WORDS), "")
    if stone and not metal:
        return Guess(Role.STONE, f"it is called '{stone}'", True)
    if metal and not stone:
        return Guess(Role.METAL, f"it is called '{metal}'", True)
    if looks_cut(mesh):
        return Guess(Role.STONE, "it is a convex body with a table and sloping facets", False)
    return Guess(Role.METAL, "its shape is not that of a cut stone", False)


def looks_cut(mesh: Mesh) -> bool:
    """Whether a body has the shape of a cut stone: convex, compact, of flat facets, with a table and slopes.

    A prism (a claw, a bar) is convex too but has no slopes to its ends; a ball has no table.
    """
    extents = np.sort(np.ptp(mesh.vertices_mm, axis=0))
    if extents[0] <= 0 or extents[2] > 5.0 * extents[0] or len(mesh.faces) > 4000:
        return False
    if solids.convexity(mesh) < CONVEX:
        return False
    facet = facet_of_face(mesh)
    count = int(facet.max()) + 1
    if not 9 <= count <= 300:
        return False
    areas = solids.face_areas(mesh)
    sizes = np.bincount(facet, weights=areas)
    table = int(np.argmax(sizes))
    normals = solids.face_normals(mesh)
    up = (normals * areas[:, None])[facet == table].sum(axis=0)
    slope = np.abs(normals @ (up / np.linalg.norm(up)))
    sloping = float(areas[(slope > 0.15) & (slope < 0.95)].sum() / areas.sum())
    return bool(sizes[table] / areas.sum() >= 0.04 and sloping >= 0.35)


def facet_of_face(mesh: Mesh) -> np.ndarray:
    """The number of the flat facet of each face: neighbours within :data:`FLAT_DEG` are one."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    from ringwright.science.mending import pair

    pairs = pair(mesh.vertices_mm, mesh.faces)
    f, g = pairs.a // 3, pairs.b // 3
    normals = solids.face_normals(mesh)
    same = np.einsum("ij,ij->i", normals[f], normals[g]) > np.cos(np.radians(FLAT_DEG))
    graph = coo_matrix((np.ones(int(same.sum()), dtype=np.int8), (f[same], g[same])), shape=(len(normals),) * 2)
    label: np.ndarray = connected_components(graph, directed=False)[1]
    return label


def _words(text: str) -> list[str]:
    """The words of a name, in small letters; digits and signs part them, and a plural counts as its word."""
    plain = "".join(c.lower() if c.isalpha() else " " for c in text)
    return [word[:-1] if word.endswith("s") and len(word) > 3 else word for word in plain.split()]
