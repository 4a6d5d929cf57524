"""The drawn ring judged: walls and gaps, a stone's place found, retention, and the memory of all of it."""

from __future__ import annotations

import multiprocessing
import resource
import time
from collections.abc import Iterator
from typing import Any

from benchmarks import Bar, Measured, benchmark, median_s
from benchmarks.rings import split

_RUNS = 3


def _facts() -> Any:
    from ringwright import facts

    return facts.load()


def _stone() -> Any:
    from ringwright.steps import gems
    from ringwright.terms.commission import StoneBrief

    facts = _facts()
    brief = StoneBrief(
        name="main", cut="round brilliant", material="diamond", treatment="none", length_mm=6.5, depth_mm=3.93
    )
    solid = gems.shape(brief, facts.cuts, facts.cut_risks)
    gem = gems.cut(
        brief, facts.cuts, facts.gem_materials, facts.gem_treatments, facts.weight_rules, facts.girdle_words,
        facts.girdle_factors, facts.cut_risks,
    ).result  # fmt: skip
    return brief, gem, solid


def _ring(stone: Any) -> Any:
    """The starter solitaire, its triangles split until there are 200,000."""
    from dataclasses import replace

    from ringwright.steps import piece
    from ringwright.terms.commission import StarterBrief
    from ringwright.terms.piece import room_for

    facts, solid = _facts(), stone[2]
    drawn = piece.starter(StarterBrief(shape="solitaire"), 17.3, facts.starter_proportions, stone=room_for(solid))
    ring, _ = piece.measure(drawn, (), facts.piece_limits)
    return replace(ring, metal=split(ring.metal))


@benchmark(Bar("wall-fields", "s", 3.0), Bar("wall-fields-general", "s", None))
def wall_fields() -> Iterator[Measured]:
    """Thickness and gap at every vertex, and what a general mesh library takes for the thickness alone."""
    from ringwright.science.surface import surface
    from ringwright.science.thickness import at_vertices

    mesh = _ring(_stone()).metal

    def ours() -> None:
        tree = surface(mesh)
        at_vertices(mesh, tree=tree)
        at_vertices(mesh, tree=tree, outside=True, at_most_mm=6.0)

    size = f"{len(mesh.faces)} triangles, {len(mesh.vertices_mm)} vertices"
    yield Measured(
        "wall-fields", median_s(ours, _RUNS), f"wall and gap at every vertex, {size}, median of {_RUNS} runs"
    )
    import trimesh
    from trimesh.proximity import thickness

    general = trimesh.Trimesh(mesh.vertices_mm, mesh.faces, process=False)
    normals = general.vertex_normals

    def theirs() -> None:
        thickness(general, mesh.vertices_mm, normals=normals, method="ray")

    how = "a general mesh library: the way along one ray from every vertex, thickness alone"
    yield Measured("wall-fields-general", median_s(theirs, 1), how)


@benchmark(Bar("stone-pose", "s", 2.0), Bar("stone-pose-off", "mm", 0.15))
def stone_pose() -> Iterator[Measured]:
    """A round stone's place found in the same ring, and how far it is from where the head was drawn for it."""
    from dataclasses import replace

    import numpy as np

    from ringwright.steps.setting._search import search

    stone = _stone()
    ring = _ring(stone)
    bare = replace(ring, seats=())
    found = search(bare, stone, [])
    off = 99.0 if found is None else float(np.linalg.norm(found.at - np.array(ring.seats[0].at_mm)))
    seconds = median_s(lambda: search(bare, stone, []), _RUNS)
    yield Measured("stone-pose", seconds, f"one stone, {len(ring.metal.faces)} triangles, median of {_RUNS} runs")
    yield Measured("stone-pose-off", off, "distance of the found girdle's centre from the drawn one")


@benchmark(Bar("retention", "s", 0.2))
def retention() -> Iterator[Measured]:
    """Whether the stone is held, the weakest pull, and every claw taken away in turn."""
    from ringwright.science.solids import to_manifold
    from ringwright.steps.setting._head import about, look
    from ringwright.steps.setting._hold import hold
    from ringwright.steps.setting._pose import places

    facts, stone = _facts(), _stone()
    ring = _ring(stone)
    (placed,), _ = places(ring, [stone], facts.setting_limits)
    head = look(placed, about(placed, to_manifold(ring.metal)), 0.5)
    seconds = median_s(lambda: hold(placed, head, facts.setting_limits, facts.setting_practice), 7)
    yield Measured("retention", seconds, f"{len(head.holders)} claws, each lost in turn, median of 7 runs")


@benchmark(Bar("judging", "s", None), Bar("design-memory", "GB", 2.0))
def whole() -> Iterator[Measured]:
    """The whole step on the same ring, in a process of its own."""
    context = multiprocessing.get_context("spawn")
    with context.Pool(1) as pool:
        seconds, gigabytes = pool.apply(_judge_alone)
    yield Measured("judging", seconds, "the whole step, one stone with its seat searched, second run")
    yield Measured("design-memory", gigabytes, "peak memory of that process, model and compiled kernels included")


def _judge_alone() -> tuple[float, float]:
    from dataclasses import replace

    from ringwright.steps import metal, setting

    facts, stone = _facts(), _stone()
    ring = replace(_ring(stone), seats=())
    alloy = metal.resolve(
        "18k-3n", facts.alloys, facts.elements, heats=facts.element_heats, rules=facts.metal_rules,
        limits=facts.metal_limits, hardening_classes=facts.hardening_classes, hardness_terms=facts.hardness_terms,
    ).result  # fmt: skip

    def work() -> None:
        setting.judge(ring, [stone], alloy, facts.wall_limits, facts.setting_limits, facts.setting_practice)

    work()
    start = time.perf_counter()
    work()
    seconds = time.perf_counter() - start
    return seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
