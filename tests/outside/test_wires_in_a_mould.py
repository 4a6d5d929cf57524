"""Round wires of 18 ct gold in a large mould at 500 °C, against a reckoning on a fine radial grid."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.science.conduction import Reaction, substance
from ringwright.science.quick_freezing import Mould, freeze_quick, lattice
from ringwright.science.voxels import fractions_in
from tests.agrees import agrees
from tests.steps.solids import rod

SOURCE = (
    "exact: metal of one temperature in an endless mould, reckoned on a fine radial grid; "
    "k 0.45 W/mK, rho 1190 kg/m3, c 1050 J/kgK; latent heat 76 kJ/kg, 14600 kg/m3, 890 °C, mould 500 °C"
)


@pytest.mark.parametrize(("radius", "published"), [(1.0, 1.653), (1.5, 3.720)])
def test_a_round_wire(radius: float, published: float) -> None:
    h, layers = 0.4, 40
    n = int(2 * (radius + 9) / h)
    mesh = rod((0, 0, -1), (0, 0, layers * h + 1), radius, 128)
    share = fractions_in(mesh, h, (-n / 2 * h + 0.123 * h, -n / 2 * h + 0.271 * h, 0.0), (n, n, layers), 8)
    T = [300.0, 1163.05, 1163.25, 2000.0]
    metal = substance(T, [100.0] * 4, [14600 * 210.0] * 4, [Reaction(from_K=T[1], to_K=T[2], J_m3=14600 * 76e3)])
    middle = np.zeros(share.shape, bool)
    middle[:, :, layers // 2 - 2 : layers // 2 + 2] = True
    found = freeze_quick(
        lattice(share, np.ones(share.shape, bool), h),
        metal=metal,
        k_metal_W_mK=100.0,
        mould=Mould(k_W_mK=0.45, c_J_m3K=1190 * 1050.0, contact_W_m2K=1e6, first_K=773.15),
        melt_K=T[2],
        levels_K=(T[2] - 0.02, T[2] - 0.1, T[1]),
        until=middle & (share > 0.3),
    )
    late = float(np.nanmax(found.passed_s[2][:, :, layers // 2 - 2 : layers // 2 + 2]))
    agrees(late, published, within=0.03, source=SOURCE, what=f"round wire of {radius} mm radius, s")
