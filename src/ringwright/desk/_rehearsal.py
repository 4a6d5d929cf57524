"""Compiling ahead: on a machine where Ringwright never ran, each kernel is worked once on a cube, on the other core.

A first plan waits for the compiler more than for anything else, and one process can compile only one kernel at a
time. What the steps need late is compiled here while the first of them are at work; each then finds it in the cache
folder. Whatever comes of this, the plan is the same: a kernel that is not found is compiled where it is needed.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ringwright.desk._aside import Apart
from ringwright.desk._digest import code_version
from ringwright.terms.body import Body, Mesh, Role


def compile_ahead(aside: Apart) -> None:
    """Set the rehearsal going, unless this version of the code has had it in this cache folder."""
    folder = os.environ.get("NUMBA_CACHE_DIR")
    if folder is None:
        return
    done = Path(folder) / f"rehearsed-{code_version()}"
    if not done.exists():

        def works() -> Iterator[None]:
            rehearse()
            with suppress(OSError):
                done.touch()
            yield

        aside(works)


def rehearse() -> None:
    """Work the kernels that the steps share, in the order in which a plan asks for them."""
    from ringwright.papers.views import SIDE, views
    from ringwright.science import distance, surface, thickness, voxels

    cube = _cube()
    surface.surface(cube).nearest(np.array(cube.vertices_mm))
    grid = voxels.fill(cube, 0.25, 2)
    distance.between_cells(grid.inside, 0.25)
    thickness.on_cells(cube, grid)
    share = voxels.fractions_in(cube, 0.25, grid.origin_mm, grid.shape)
    _pour(share, 0.25)
    views((Body("cube", Role.METAL, cube),), (SIDE,))


def _pour(share: NDArray[np.float32], h_mm: float) -> None:
    """The kernels of filling, freezing and feeding. The figures are of no substance."""
    from ringwright.science import feeding, filling, quick_freezing
    from ringwright.science.conduction import substance
    from ringwright.science.network import of_shares

    net = of_shares(share, h_mm, (0.0, 0.0, 0.0), 24.0)
    first = np.arange(net.count) == 0
    liquid = filling.Liquid(
        density=1e4, viscosity=5e-3, tension=1.0, angle_deg=120.0, heat_capacity=300.0, latent=6e4, liquidus_C=900.0,
        solidus_C=850.0, stops_at=0.3,
    )  # fmt: skip
    wall = filling.Wall(
        effusivity=1e3, contact=1e3, temperature_C=500.0, permeability=1e-12, shape_m=0.1, behind_Pa=1e3, tip=1.0
    )
    way = filling.paths(net, np.full(net.count, h_mm), np.zeros(net.count), first, liquid, drive_Pa=1e5, losses=1.0)
    filling.filled(way, liquid, wall, filling.Supply(rate_m3_s=1e-5, sprue_m2=1e-5, losses=1.0, liquid_C=950.0))
    freezing = quick_freezing.freeze_quick(
        quick_freezing.lattice(share, np.ones(share.shape, bool), h_mm),
        metal=substance([300.0, 1500.0], [100.0, 100.0], [3e6, 3e6]),
        k_metal_W_mK=100.0,
        mould=quick_freezing.Mould(k_W_mK=0.5, c_J_m3K=1e6, contact_W_m2K=1e3, first_K=800.0),
        melt_K=1300.0,
        levels_K=(1200.0, 1190.0, 1180.0),
        until=share > 0.5,
    )
    times = [np.nan_to_num(t[share > 0.01], nan=1.0, posinf=1e3) for t in freezing.passed_s]
    feeding.cut_off(
        net, feeding.Freezing(begins_s=times[0], stops_s=times[1], solid_s=times[2], liquid_at_stop=0.3), first
    )


def _cube(edge_mm: float = 2.0) -> Mesh:
    corners = np.array([[x, y, z] for x in (0.0, edge_mm) for y in (0.0, edge_mm) for z in (0.0, edge_mm)])
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return Mesh(corners, np.array([t for a, b, c, d in sides for t in ((a, b, c), (a, c, d))], np.int64))
