"""A pour in figures, made up, for the papers to be made of."""

from __future__ import annotations

from dataclasses import replace

from ringwright.terms.pour import Compared, PoreZone, PourFigures, Setting, TightPlace, Variant


def setting(flask_C: float, melt_C: float, verdict: str = "sound", left: float = 55.0) -> Setting:
    return Setting(
        flask_C=flask_C,
        melt_C=melt_C,
        superheat_C=melt_C - 895.0,
        fill_s=0.14,
        reserve_percent=left + 3,
        reserve_low_percent=left,
        frozen_s=4.63,
        pore_mm3=0.41,
        niyama=0.32,
        verdict=verdict,
    )


def variant(what: str, *, chosen: bool = False, pore_mm3: float | None = 1.23) -> Variant:
    return Variant(
        what=what,
        judged_by="filling alone" if pore_mm3 is None else "filling, and freezing in coarse cells",
        gates=1,
        sprue_diameter_mm=2.9,
        sprue_length_mm=10.0,
        marks_mm2=6.6,
        mark_counts=0.5,
        flask_C=495.0,
        melt_C=965.0,
        reserve_percent=58.0,
        reserve_low_percent=55.0,
        pore_mm3=pore_mm3,
        ball_mm=None if pore_mm3 is None else 1.33,
        frozen_s=None if pore_mm3 is None else 4.4,
        charge_g=None if pore_mm3 is None else 8.57,
        chosen=chosen,
    )


TIGHT = TightPlace(
    piece="ring", place="left shoulder", at_mm=(0, 0, 0), wall_mm=0.91, fill_s=0.13, reserve_percent=58.0
)
ACROSS, UP = (350.0, 420.0, 495.0, 600.0), (930.0, 965.0, 1000.0)
WORDS = ("misrun", "near misrun", "sound", "coarse and porous side")
POUR = PourFigures(
    alloy_class="gold",
    method="vacuum",
    chosen=setting(495.0, 965.0),
    why="The lowest melt and then the coolest flask.",
    habit=setting(560.0, 995.0, "coarse and porous side", 71.0),
    flask_C=495.0,
    flask_at_pour_C=484.0,
    flask_skin_C=451.0,
    melt_C=965.0,
    superheat_C=70.0,
    drive_kPa=91.0,
    gas_kPa=12.0,
    edge_mm=0.021,
    fill_s=0.14,
    speed_m_s=0.52,
    reserve_percent=58.0,
    tightest=(TIGHT,),
    first_frozen_s=0.31,
    frozen_s=4.63,
    sprue_frozen_s=3.72,
    tree_frozen_s=5.0,
    cooling_K_s=33.0,
    niyama=0.32,
    pores=(
        PoreZone(
            piece="ring", place="head", at_mm=(0, 9, 0), pore_mm3=0.41, ball_mm=0.92, cut_off_s=2.48, frozen_s=3.76,
            pool_mm3=53.0,
        ),
    ),
    sprue_pores=(),
    pore_mm3=0.41,
    window=tuple(setting(f, m, WORDS[n], 10.0 + 7 * n) for m in UP for n, f in enumerate(ACROSS)),
    variants=(
        variant("one gate at the bottom of the shank"),
        variant("one gate at the head", chosen=True, pore_mm3=0.0),
    ),
    led_why="One gate at the head: nothing is cut off.",
    measured="No measured freezing time of a ring in investment was found in print.",
    cautions=("molten-metal", "hot-flask", "silica-dust", "vacuum"),
)  # fmt: skip

LOGGED = replace(
    POUR,
    compared=(
        Compared(
            where="ring: bottom of the shank",
            first_s=0.0,
            hottest_C=951.0,
            liquidus_s=0.6,
            stops_s=3.1,
            solidus_s=5.8,
            forecast_liquidus_s=0.4,
            forecast_stops_s=2.6,
            forecast_solidus_s=4.4,
            ratio=1.32,
            freezing_ratio=1.3,
        ),
    ),
)
