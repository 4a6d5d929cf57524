"""A heap of triangles made into a closed surface: what belongs together joined, wound one way, opened nowhere.

Every function takes and gives plain arrays (vertices (n, 3), faces (m, 3)) and tells by numbers what it changed; what
to say of it is for those who call.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringwright.science.solids import half_edges
from ringwright.terms.body import Floats, Ints

Bools = NDArray[np.bool_]


def welded(vertices: Floats, faces: Ints) -> tuple[Floats, Ints]:
    """Vertices at the very same place made one; their order stays, and unused ones are dropped."""
    if not len(faces):
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    points = vertices + 0.0  # one sign of zero
    bits = np.ascontiguousarray(points).view(np.uint64)
    mixed = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    for column, odd in ((1, 0xC2B2AE3D27D4EB4F), (2, 0x165667B19E3779F9)):
        mixed = (mixed ^ (mixed >> np.uint64(29))) + bits[:, column] * np.uint64(odd)
    order = np.argsort(mixed)
    sorted_marks = mixed[order]
    new = np.concatenate([[True], sorted_marks[1:] != sorted_marks[:-1]])
    first = np.minimum.reduceat(order, np.flatnonzero(new))  # the first vertex with the same mark
    leader = np.empty(len(points), dtype=np.int64)
    leader[order] = first[np.cumsum(new) - 1]
    if not np.array_equal(points[leader], points):  # two places with one mark
        _, firsts, inverse = np.unique(points, axis=0, return_index=True, return_inverse=True)
        leader = firsts[inverse.reshape(-1)]
    used = np.zeros(len(points), dtype=bool)
    used[leader[faces]] = True
    number = np.cumsum(used) - 1
    return points[used], number[leader[faces]]


def welded_within(vertices: Floats, faces: Ints, within: float) -> tuple[Floats, Ints, int]:
    """Vertices of open edges that lie within a distance made one; and how many were joined to another."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    loose = np.unique(open_half_edges(faces))
    if not len(loose):
        return vertices, faces, 0
    pairs = cKDTree(vertices[loose]).query_pairs(within, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(loose),) * 2)
    count, label = connected_components(graph, directed=False)
    leader = np.full(count, len(vertices), dtype=np.int64)
    np.minimum.at(leader, label, loose)
    target = np.arange(len(vertices))
    target[loose] = leader[label]
    return *welded(vertices, target[faces]), len(loose) - count


def without_spoiled(faces: Ints) -> tuple[Ints, int, int]:
    """Faces that use a vertex twice dropped, and of faces on the same three vertices all but what closes the surface.

    Two such faces wound alike become one; two wound against each other have nothing between them and both go, unless
    the whole surface is double: then one side is kept. Gives the faces, how many had two corners in one, and how many
    were double.
    """
    flat = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    kept = faces[~flat]
    ordered = np.sort(kept, axis=1)
    order = np.lexsort(ordered.T)
    same = np.all(ordered[order][1:] == ordered[order][:-1], axis=1)
    if not same.any():
        return kept, int(flat.sum()), 0
    group = np.concatenate([[0], np.cumsum(~same)])
    rolled = np.argmin(kept, axis=1)
    after = kept[np.arange(len(kept)), (rolled + 1) % 3]
    sign = np.where(after == ordered[:, 1], 1, -1)[order]
    total = np.zeros(group[-1] + 1, dtype=np.int64)
    np.add.at(total, group, sign)
    if not total.any():
        total[:] = sign[np.unique(group, return_index=True)[1]]
    keep = np.zeros(len(kept), dtype=bool)
    chosen = np.flatnonzero(sign == np.sign(total)[group])
    keep[order[chosen[np.unique(group[chosen], return_index=True)[1]]]] = True
    return kept[keep], int(flat.sum()), int(len(kept) - keep.sum())


def open_half_edges(faces: Ints) -> Ints:
    """The directed edges (k, 2) that are used by an odd number of faces."""
    edges = half_edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    key = low * (int(faces.max()) + 1 if len(faces) else 1) + high
    _, inverse, count = np.unique(key, return_inverse=True, return_counts=True)
    odd: Bools = count % 2 == 1
    loose: Ints = edges[odd[inverse.reshape(-1)]]
    return loose


@dataclass(frozen=True, eq=False)
class Pairs:
    """Which half edges lie on each other: indices ``a`` and ``b`` into :func:`half_edges`; ``against`` where they run
    opposite ways, as on a surface wound one way. ``shared`` counts edges with more than two faces."""

    a: Ints
    b: Ints
    against: Bools
    open: int
    shared: int


def pair(vertices: Floats, faces: Ints) -> Pairs:
    """Pair the half edges. Where four or more faces meet, those with solid between them go together."""
    edges = half_edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    key = low * len(vertices) + high
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.concatenate([[True], key[order][1:] != key[order][:-1]]))
    counts = np.diff(np.append(starts, len(order)))
    two = starts[counts == 2]
    a, b = [order[two]], [order[two + 1]]
    for start, count in zip(starts[counts > 2], counts[counts > 2], strict=True):
        ring = _about(vertices, faces, edges, order[start : start + count])
        a.append(ring[0 : count - count % 2 : 2])
        b.append(ring[1 : count - count % 2 + 1 : 2])
    left, right = np.concatenate(a), np.concatenate(b)
    against = edges[left, 0] == edges[right, 1]
    return Pairs(left, right, against, int(np.sum(counts % 2)), int(np.sum(counts > 2)))


def _about(vertices: Floats, faces: Ints, edges: Ints, members: Ints) -> Ints:
    """The half edges of one edge in the order of their faces' angles, beginning where solid lies after the first."""
    p, q = vertices[edges[members[0]].min()], vertices[edges[members[0]].max()]
    along = (q - p) / max(float(np.linalg.norm(q - p)), 1e-300)
    helper = np.eye(3)[int(np.argmin(np.abs(along)))]
    x = np.cross(along, helper)
    x /= np.linalg.norm(x)
    y = np.cross(along, x)
    third = vertices[faces[members // 3, (members % 3 + 2) % 3]] - p
    angle = np.arctan2(third @ y, third @ x)
    turn = np.argsort(angle, kind="stable")
    ring = members[turn]
    # A face that runs from the lower to the higher vertex looks toward growing angles: solid lies before it.
    opens = edges[ring, 0] > edges[ring, 1]
    return ring if opens[0] else np.roll(ring, -1)


def wound_one_way(faces: Ints, pairs: Pairs) -> tuple[Ints, int, bool]:
    """Faces turned so that neighbours run against each other along their edge.

    In each connected surface the smaller part is turned. Gives the faces, how many were turned, and whether it can be
    done at all (a one-sided surface cannot).
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    if bool(pairs.against.all()):
        return faces, 0, True
    m = len(faces)
    f, g = pairs.a // 3, pairs.b // 3
    flip = np.where(pairs.against, 0, m)
    rows = np.concatenate([f, f + m])
    columns = np.concatenate([g + flip, g + m - flip])
    graph = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(2 * m, 2 * m))
    label = connected_components(graph, directed=False)[1]
    as_is, turned = label[:m], label[m:]
    two_sided = bool(np.all(as_is != turned))
    # of the two ways of a surface, the one that more of its faces already have; the lower label if equal
    votes = np.bincount(as_is, minlength=int(label.max()) + 1)
    wrong = (votes[turned] > votes[as_is]) | ((votes[turned] == votes[as_is]) & (turned < as_is))
    out = faces.copy()
    out[wrong] = out[wrong][:, ::-1]
    return out, int(wrong.sum()), two_sided


def cut_apart(vertices: Floats, faces: Ints, pairs: Pairs) -> tuple[Floats, Ints, int]:
    """A vertex of its own for each fan of faces that hangs together by paired edges; and how many were added.

    So two solids that touch along an edge or in a point become two shells.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    a, b = pairs.a, pairs.b
    a_end, b_end = a - a % 3 + (a + 1) % 3, b - b % 3 + (b + 1) % 3
    rows = np.concatenate([a, a_end])
    columns = np.concatenate([np.where(pairs.against, b_end, b), np.where(pairs.against, b, b_end)])
    size = 3 * len(faces)
    graph = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(size, size))
    count, label = connected_components(graph, directed=False)
    corners = faces.reshape(-1)
    used = len(np.unique(corners))
    if count == used:
        return vertices, faces, 0
    first = np.unique(label, return_index=True)[1]
    return vertices[corners[first]], label.reshape(-1, 3).astype(np.int64), count - used


@dataclass(frozen=True, eq=False)
class Opening:
    """An open loop of a surface: the faces that close it, their area, its width across, how far it is from flat, and
    its middle."""

    faces: Ints
    area: float
    size: float
    bulge: float
    middle: Floats


def openings(vertices: Floats, faces: Ints, pairs: Pairs, most: int = 20_000) -> list[Opening] | None:
    """The open loops, largest first; None where the open edges form no plain loops or are more than ``most``."""
    edges = half_edges(faces)
    paired = np.zeros(len(edges), dtype=bool)
    paired[pairs.a] = True
    paired[pairs.b] = True
    loose = edges[~paired]
    if len(loose) > most or len(np.unique(loose[:, 1])) != len(loose) or len(np.unique(loose[:, 0])) != len(loose):
        return None
    follow = dict(zip(loose[:, 1].tolist(), loose[:, 0].tolist(), strict=True))
    found = []
    while follow:
        start, at = follow.popitem()
        loop = [start]
        while at != start:
            loop.append(at)
            step = follow.pop(at, None)
            if step is None:
                return None
            at = step
        found.append(_opening(vertices, np.array(loop)))
    return sorted(found, key=lambda one: (-one.area, int(one.faces.min())))


def _opening(vertices: Floats, loop: Ints) -> Opening:
    """The loop closed by cutting its shortest diagonal until a triangle is left."""
    points = vertices[loop]
    middle = points.mean(axis=0)
    extents = np.ptp((points - middle) @ np.linalg.svd(points - middle, full_matrices=False)[2].T, axis=0)
    left, new = loop.tolist(), []
    while len(left) > 2:
        rest = vertices[left]
        across = np.linalg.norm(np.roll(rest, 1, axis=0) - np.roll(rest, -1, axis=0), axis=1)
        k = int(np.argmin(across))
        new.append((left[k - 1], left[k], left[(k + 1) % len(left)]))
        del left[k]
    faces = np.array(new, dtype=np.int64).reshape(-1, 3)
    corners = vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * float(np.linalg.norm(normals, axis=1).sum())
    return Opening(faces, area, float(np.linalg.norm(np.ptp(points, axis=0))), float(extents[-1]), middle)
