"""Starter shapes: a ring to quote from before anything is drawn, in finished dimensions, as a closed solid.

All stand in the ring's own frame: z along the finger, the head at +y. What a shape is made of is told in its function,
so that its volume can be computed a second way.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringwright.science import solids, sweeps
from ringwright.steps.piece import _heads
from ringwright.steps.piece._sections import AROUND, SECTIONS, STEP_MM, Proportions, outline
from ringwright.terms.body import Body, Floats, Mesh, Role
from ringwright.terms.commission import SeatBrief, StarterBrief
from ringwright.terms.mistake import BadInput, ComputingFault, Mistake
from ringwright.terms.piece import Drawn, StarterProportion, StoneRoom, UnitsFrom

SHAPES = ("band", "solitaire", "bezel", "signet")


def starter(
    brief: StarterBrief,
    inner_diameter_mm: float,
    proportions: Sequence[StarterProportion],
    *,
    inside: str = "flat",
    stone: StoneRoom | None = None,
) -> Drawn:
    """The shape that ``brief`` asks for, with a hole of the given diameter, as if it had been drawn.

    ``inside`` is "flat" or "comfort"; ``stone`` is the main stone, which a solitaire and a bezel need; its seat is in
    the result. ``proportions`` are the rows of the facts' table ``starter_proportions``. Raises :class:`BadInput` for
    an unknown shape or section, a missing stone, or dimensions that make no ring.
    """
    _check(brief, inner_diameter_mm, inside, stone)
    made_by = Proportions(proportions)
    radius = inner_diameter_mm / 2.0
    comfort = inside == "comfort"
    seats: tuple[SeatBrief, ...] = ()
    if brief.shape == "signet":
        metal = signet(brief, radius, comfort, made_by)
    else:
        metal = shank(brief, radius, comfort, made_by)
        if stone is not None and brief.shape == "solitaire":
            metal, seat = _heads.solitaire(metal, brief, radius, stone, made_by)
            seats = (seat,)
        elif stone is not None and brief.shape == "bezel":
            metal, seat = _heads.bezel(metal, brief, radius, stone, made_by)
            seats = (seat,)
    if len(solids.shells(metal)) != 1:
        raise ComputingFault(f"the starter shape '{brief.shape}' falls apart in {len(solids.shells(metal))} shells")
    return Drawn(
        name=f"starter {brief.shape}",
        format="starter shape",
        units="mm",
        units_from=UnitsFrom.STARTER,
        bodies=(Body("ring", Role.METAL, metal),),
        seats=seats,
    )


def shank(brief: StarterBrief, radius: float, comfort: bool, proportions: Proportions) -> Mesh:
    """A band of one section all the way round: its volume is the section's area times the way of its centroid."""
    section = outline(brief.section, brief.width_mm, brief.thickness_mm, comfort=comfort, proportions=proportions)
    return sweeps.revolved(section + np.array([radius, 0.0]), AROUND)


def signet(brief: StarterBrief, radius: float, comfort: bool, proportions: Proportions) -> Mesh:
    """A band that swells to a flat face square to y.

    At the angle a from the top the section reaches from the inside to the radius R(a) and is w(a) broad: both run by
    the smooth step 3 s² - 2 s³ from the face's edge to the shank. Over the face R is that of the plane. The outside
    falls off by a parabola towards the edges: by that of the shank at the bottom, not at all at the face.
    """
    turns, sections = signet_sections(brief, radius, comfort, proportions)
    return sweeps.swept_round(turns, sections)


def signet_sections(
    brief: StarterBrief, radius: float, comfort: bool, proportions: Proportions
) -> tuple[Floats, Floats]:
    """The angles (n,) about z and the outlines (n, m, 2) of a signet."""
    plane = radius + brief.head_thickness_mm
    half_face = float(np.arctan2(brief.head_length_mm / 2.0, plane))
    shoulder = proportions.share("signet-shoulder") * (np.pi - half_face)
    per = 2.0 * np.pi / AROUND
    edge, low = np.pi - half_face - shoulder, np.pi - half_face
    spans = ((0.0, edge), (edge, low), (low, np.pi))
    steps = [a + (b - a) * np.arange(n) / n for a, b in spans for n in [max(int(np.ceil((b - a) / per)), 2)]]
    from_bottom = np.concatenate([*steps, [np.pi]])
    from_bottom = np.concatenate([from_bottom, -from_bottom[-2:0:-1]])
    away = np.pi - np.abs(from_bottom)  # from the top
    share = np.clip((away - half_face) / shoulder, 0.0, 1.0)
    smooth = share**2 * (3.0 - 2.0 * share)
    width = brief.head_width_mm + (brief.width_mm - brief.head_width_mm) * smooth
    rim = np.hypot(brief.head_length_mm / 2.0, plane)
    outer = rim + (radius + brief.thickness_mm - rim) * smooth
    over = away <= half_face * (1.0 + 1e-12)
    outer[over] = plane / np.cos(away[over])
    domed = brief.section in ("D", "court", "oval")
    fall = (1.0 - proportions.share("dome-edge")) * brief.thickness_mm * smooth if domed else np.zeros_like(smooth)
    rounded = comfort or brief.section in ("court", "oval")
    rise = proportions.share("comfort-rise") * brief.thickness_mm if rounded else 0.0
    broadest = max(brief.head_width_mm, brief.width_mm)
    z = np.linspace(-1.0, 1.0, 2 * max(int(np.ceil(broadest / STEP_MM / 4.0)), 6) + 1)
    up = np.linspace(0.0, 1.0, 5)[1:-1]
    inner_r = np.broadcast_to(radius + rise * z**2, (len(outer), len(z)))
    outer_r = outer[:, None] - fall[:, None] * z**2
    side = inner_r[:, :1] + (outer_r[:, :1] - inner_r[:, :1]) * up
    r = np.concatenate([inner_r[:, ::-1], side, outer_r, side[:, ::-1]], axis=1)
    at = np.concatenate([z[::-1], np.full(len(up), -1.0), z, np.full(len(up), 1.0)])
    sections = np.stack([r, width[:, None] / 2.0 * at], axis=-1)
    return from_bottom - np.pi / 2.0, sections


def _check(brief: StarterBrief, inner_diameter: float, inside: str, stone: StoneRoom | None) -> None:
    """Raises :class:`BadInput` with everything that is wrong."""
    wrong: list[Mistake] = []
    for what, given, known in (
        ("shape", brief.shape, SHAPES),
        ("section", brief.section, SECTIONS),
        ("inside", inside, ("flat", "comfort")),
    ):
        if given not in known:
            where = "finger.inside" if what == "inside" else f"starter.{what}"
            wrong.append(Mistake(where, f"'{given}' is no {what}", f"one of {', '.join(known)}"))
    sizes = {"width": brief.width_mm, "thickness": brief.thickness_mm}
    if brief.shape == "signet":
        sizes |= {
            "head_length": brief.head_length_mm,
            "head_width": brief.head_width_mm,
            "head_thickness": brief.head_thickness_mm,
        }
    wrong += [
        Mistake(f"starter.{name}", f"{value:g} mm", "more than nothing") for name, value in sizes.items() if value <= 0
    ]
    if inner_diameter <= 0:
        wrong.append(Mistake("finger", f"an inner diameter of {inner_diameter:g} mm", "more than nothing"))
    if brief.thickness_mm > 0 and brief.thickness_mm > inner_diameter / 2.0:
        wrong.append(
            Mistake("starter.thickness", f"{brief.thickness_mm:g} mm is more than half the hole", "a thinner band")
        )
    if brief.shape == "signet" and brief.head_length_mm >= inner_diameter:
        wrong.append(
            Mistake("starter.head_length", f"{brief.head_length_mm:g} mm is wider than the finger", "a shorter face")
        )
    if brief.shape in ("solitaire", "bezel") and stone is None:
        wrong.append(Mistake("starter.shape", f"a {brief.shape} needs a stone", "add a [[stone]], or take a band"))
    if wrong:
        raise BadInput(*wrong)
