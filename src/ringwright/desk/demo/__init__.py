"""Two commissions and a workshop of our own, to see what Ringwright does and to start from.

The shop, its prices and its clients are invented. The model of the first ring is made by the starter shapes, turned
and moved as another program might have left it, and stored as STL: from then on it is a file like any other.
"""

from __future__ import annotations

import datetime as dt
from importlib.resources import files
from pathlib import Path

from ringwright.desk.reading import commission_in
from ringwright.terms.body import Mesh
from ringwright.terms.commission import Commission, SeatBrief, StarterBrief
from ringwright.terms.mistake import bad

COMMISSIONS = ("sapphire.commission.toml", "wide-band.commission.toml")
"""The commissions of the demo, in the order in which they are planned."""

_MODEL = "sapphire-ring.stl"
_PROMISED_DAYS = 63
_DRAWN = StarterBrief(shape="solitaire", section="court", width_mm=2.4, thickness_mm=1.9, claws=4)


def write_demo(folder: Path, today: dt.date) -> tuple[Path, ...]:
    """Write the demo's files into ``folder`` and give the paths of its commissions.

    What stands there under the same names is replaced. Raises :class:`~ringwright.terms.mistake.BadInput` where the
    folder cannot be written.
    """
    from ringwright.papers.meshfiles import stl

    model, seat = foreign_model()
    texts = {name: (files(__name__) / name).read_text("utf-8") for name in ("workshop.toml", *COMMISSIONS)}
    due = today + dt.timedelta(days=_PROMISED_DAYS)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / _MODEL).write_bytes(stl(model))
        for name, text in texts.items():
            filled = text.replace("{due}", due.isoformat()).replace("{seat}", _seat(seat))
            (folder / name).write_text(filled, "utf-8")
    except OSError as fault:
        raise bad(str(folder), f"the folder cannot be written ({fault.strerror})", "name another folder") from fault
    return tuple(folder / name for name in COMMISSIONS)


def foreign_model() -> tuple[Mesh, SeatBrief]:
    """The ring of the first commission as another program might have drawn it, and where its stone sits in it."""
    import numpy as np

    from ringwright import facts
    from ringwright.steps import finger, gems, piece
    from ringwright.terms.piece import Placement, room_for

    tables = facts.load()
    order = _first_order()
    fit = finger.fit(order.finger, _DRAWN.width_mm, finger.rows_of(tables)).result
    stone = gems.shape(order.stone[0], tables.cuts)
    drawn = piece.starter(_DRAWN, fit.inner_diameter_mm.value, tables.starter_proportions, stone=room_for(stone))
    turn, tilt = np.radians(37.0), np.radians(-71.0)
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    one, two, three = ((float(x), float(y), float(z)) for x, y, z in about_x @ about_z)
    placement = Placement((one, two, three), (48.0, -12.5, 7.25))
    return drawn.metal.moved(placement.matrix, np.array(placement.shift_mm)), placement.seat(drawn.seats[0])


def _first_order() -> Commission:
    """The first commission as it stands in the package, before its day and its stone's seat are filled in."""
    text = (files(__name__) / COMMISSIONS[0]).read_text("utf-8")
    return commission_in(text.replace("{due}", "9999-01-01").replace("seat = {seat}\n", ""), COMMISSIONS[0])


def _seat(seat: SeatBrief) -> str:
    """A seat as the file says it."""
    at = ", ".join(f"{part:.4f}" for part in seat.at_mm)
    facing = ", ".join(f"{part:.6f}" for part in seat.facing)
    return f'{{ at = "{at} mm", facing = "{facing}", turn = "{seat.turn_deg:.3f} deg" }}'
