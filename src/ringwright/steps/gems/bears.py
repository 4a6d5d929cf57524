"""What a stone bears at the bench: the worse of what its material and its treatment bear."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ringwright.steps.gems.naming import by_name
from ringwright.terms.gems import Bears, CutRisk, Force, GemFact, TreatmentFact


@dataclass(frozen=True, kw_only=True)
class Bearing:
    """What a stone bears, and what to say of it at the bench."""

    treatment: str
    torch: Bears
    ultrasonic: Bears
    steam: Bears
    pickle: Bears
    force: Force
    weakened: bool
    cautions: tuple[str, ...]


def bearing(material: GemFact, treatment: str, treatments: Iterable[TreatmentFact], where: str) -> Bearing:
    """What a stone of that material and treatment bears.

    An unknown treatment counts only for a material on which treatments are usual. Raises
    :class:`~ringwright.terms.mistake.BadInput` at ``where`` for a treatment that nobody knows.
    """
    row = by_name(treatments, treatment, "treatment", where)
    moot = row.key == "unknown" and not material.treatments
    cautions = tuple(text for text in (material.care, "" if moot else row.care) if text)
    if moot:
        return Bearing(
            treatment=row.key,
            torch=material.torch,
            ultrasonic=material.ultrasonic,
            steam=material.steam,
            pickle=material.pickle,
            force=material.force,
            weakened=False,
            cautions=cautions,
        )
    return Bearing(
        treatment=row.key,
        torch=_worse(material.torch, row.torch),
        ultrasonic=_worse(material.ultrasonic, row.ultrasonic),
        steam=_worse(material.steam, row.steam),
        pickle=_worse(material.pickle, row.pickle),
        force=max(material.force, Force.CAREFUL, key=lambda f: f.rank) if row.weakens else material.force,
        weakened=row.weakens,
        cautions=cautions,
    )


def _worse(a: Bears, b: Bears) -> Bears:
    """The graver of two answers."""
    return max(a, b, key=lambda answer: answer.rank)


def setting_risk(
    cut: str, material: GemFact, weakened: bool, girdle: str, risks: Iterable[CutRisk]
) -> tuple[int, str, tuple[str, ...]]:
    """The risk to a stone in setting, 1 to 5, the place that is hurt most easily, and the advice that goes with it.

    The worst place of the cut, worsened by an extremely thin or thick girdle, by a perfect cleavage and by a treatment
    that weakens the stone.
    """
    risks = tuple(risks)
    places = [risk for risk in risks if risk.cut == cut]
    if not places:
        return 1, "", ()
    worst = max(places, key=lambda risk: risk.severity)
    holds = {f"{girdle} girdle"}
    if material.cleavage.startswith("perfect"):
        holds.add("perfect cleavage")
    if weakened:
        holds.add("treated or filled")
    worse = [risk for risk in risks if risk.adds and risk.key in holds]
    total = min(worst.severity + sum(risk.adds for risk in worse), 5)
    return total, worst.feature, tuple(risk.advice for risk in (*places, *worse))
