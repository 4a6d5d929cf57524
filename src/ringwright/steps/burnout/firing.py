"""The firing itself: the kiln goes by its programme, the flask follows, and every hold waits for its core."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ringwright.science.conduction import Cylinder, State
from ringwright.steps.burnout.mould import ZERO_C_IN_K, Mould
from ringwright.terms.burnout import BurnoutNeedFact, Hold
from ringwright.terms.mistake import ComputingFault

STEP_S = 150.0
QUIET_S = 900.0
_LONGEST_H = 200.0


@dataclass(frozen=True, eq=False)
class Flask:
    """One flask in the kiln: its body now, and where it is."""

    body: Cylinder
    state: State
    dry_s: float | None = None
    heat_J: float = 0.0
    taken_J: float = 0.0

    def after(self, seconds: float, from_C: float, to_C: float, dry_above_C: float) -> Flask:
        """The flask after a step of the kiln."""
        state = self.body.after(self.state, seconds, (from_C + ZERO_C_IN_K, to_C + ZERO_C_IN_K))
        dry_s = self.dry_s
        if dry_s is None and self.body.spread_K(state)[0] - ZERO_C_IN_K >= dry_above_C:
            dry_s = state.time_s
        return replace(self, state=state, dry_s=dry_s)

    def off_by_C(self, set_C: float) -> float:
        """How far the place furthest from the set temperature is from it."""
        low, high = self.body.spread_K(self.state)
        return max(set_C + ZERO_C_IN_K - low, high - set_C - ZERO_C_IN_K)

    @property
    def core_C(self) -> float:
        """The core."""
        return self.body.core_K(self.state) - ZERO_C_IN_K

    def dried(self, mould: Mould) -> Flask:
        """The flask when the reactions are over and do not turn back."""
        body, state = self.body.taken_over(self.state, mould.dry)
        return replace(self, body=body, state=state)


def ramp(flask: Flask, from_C: float, to_C: float, hours: float, dry_above_C: float) -> Flask:
    """The flask after the kiln has gone evenly from one temperature to another, in longer steps where it stands."""
    steps = max(1, math.ceil(hours * 3600 / (QUIET_S if from_C == to_C else STEP_S) - 1e-9))
    for n in range(steps):
        a, b = (from_C + (to_C - from_C) * share / steps for share in (n, n + 1))
        flask = flask.after(hours * 3600 / steps, a, b, dry_above_C)
    return flask


def until_there(flask: Flask, set_C: float, within_C: float, dry_above_C: float) -> tuple[Flask, float, float]:
    """The flask when all of it is within ``within_C`` of the kiln; the hours that took, and the hours worked out.

    Raises :class:`ComputingFault` if that never comes.
    """
    start, off = flask.state.time_s, flask.off_by_C(set_C)
    if off <= within_C:
        return flask, 0.0, 0.0
    while flask.state.time_s - start < _LONGEST_H * 3600:
        before = off
        flask = flask.after(STEP_S, set_C, set_C, dry_above_C)
        off = flask.off_by_C(set_C)
        if off <= within_C:
            done = (flask.state.time_s - start) / 3600
            return flask, done - STEP_S / 3600 * (within_C - off) / max(before - off, 1e-12), done
    raise ComputingFault(f"burnout: after {_LONGEST_H:.0f} h at {set_C:.0f} °C the core is still {off:.0f} °C off")


def hold(
    flasks: tuple[Flask, Flask],
    need: BurnoutNeedFact,
    *,
    from_C: float,
    to_C: float,
    ramp_C_per_h: float,
    after_core_h: float,
    least_h: float,
    step_h: float,
    dry_above_C: float,
) -> tuple[tuple[Flask, Flask], Hold]:
    """Ramp and hold, long enough for the core of both flasks: the usual one and the slow one.

    The hold is the longer of ``least_h`` and the slow flask's core plus ``after_core_h``, up to a whole ``step_h``.
    """
    ramp_h = abs(to_C - from_C) / ramp_C_per_h
    usual, slow = (ramp(f, from_C, to_C, ramp_h, dry_above_C) for f in flasks)
    usual, usual_h, worked_h = until_there(usual, to_C, need.core_within_C, dry_above_C)
    slow, slow_h, slow_worked_h = until_there(slow, to_C, need.core_within_C, dry_above_C)
    there_h = max(usual_h, slow_h)
    wanted_h = max(there_h + after_core_h, least_h)
    hold_h = math.ceil(wanted_h / step_h - 1e-9) * step_h
    needed_by = "core" if there_h > after_core_h else "work"
    set_by = "practice" if there_h + after_core_h <= least_h else needed_by
    usual = ramp(usual, to_C, to_C, hold_h - worked_h, dry_above_C) if hold_h > worked_h else usual
    slow = ramp(slow, to_C, to_C, hold_h - slow_worked_h, dry_above_C) if hold_h > slow_worked_h else slow
    line = Hold(
        purpose=need.purpose,
        to_C=to_C,
        ramp_C_per_h=ramp_C_per_h,
        ramp_h=ramp_h,
        hold_h=hold_h,
        core_within_C=need.core_within_C,
        core_there_after_h=usual_h,
        core_later_h=there_h - usual_h,
        core_C=usual.core_C,
        set_by=set_by,
    )
    return (usual, slow), line
