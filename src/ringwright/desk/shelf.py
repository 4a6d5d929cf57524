"""The workshop's shelf: every commission with its versions, models and dossiers, and the making of them in the background.

What the app of the workshop does, it does through these functions; all may be called from any thread.

* **Opening.** ``with open_shelf(folder) as shelf:`` The folder is the one that the command line works in:
  ``*.commission.toml``, models, ``workshop.toml``, ``*.dossier/``. Beside them stands ``ringwright.sqlite``, which keeps
  what files cannot: versions, verdicts, pictures. The files say what is now: :func:`take_up` (called by
  :func:`cards`) makes a version of what was changed by hand, every saving is written through to the file.
* **Reading.** :func:`cards`, :func:`commission`, :func:`history`, :func:`dossier`, :func:`dossier_data`,
  :func:`dossier_file`, :func:`picture`, :func:`workshop`, :func:`difference`.
* **Saving.** :func:`create_commission`, :func:`save_commission`, :func:`save_workshop`, :func:`set_state`. A saving names the
  version that it began from; where another was saved since, it raises :class:`Conflict` and nothing is overwritten.
* **Models.** :func:`look_at_model` (first figures and a picture, in a process with limits; never raises anything but
  ``BadInput``), :func:`keep_model`, :func:`model_bytes`.
* **Making.** :func:`start_making`, :func:`making_status`, :func:`makings`, :func:`stop_making`: one after the other, in one worker process.
* **Moving.** :func:`export_to`, :func:`import_from`: plain files, without loss.

``by`` is who saves, in words for other pages to read ("this page", "the bench tablet"). Keys are short names of
letters, digits and hyphens (``ring-a`` is ``ring-a.commission.toml``); anything else raises ``BadInput``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from ringwright.store.kept import Card, CommissionVersion, Conflict, DossierKept, ModelKept, State, Version
from ringwright.terms.mistake import Mistake
from ringwright.terms.remark import Level

__all__ = ["Card", "CommissionVersion", "Conflict", "DossierKept", "ModelKept", "State", "Version"]


class Stage(StrEnum):
    """How far a making is."""

    WAITING = "waiting"
    WORKING = "working"
    WRITING = "writing"
    DONE = "done"
    STOPPED = "stopped"
    REFUSED = "refused"
    FAILED = "failed"

    @property
    def over(self) -> bool:
        """Whether nothing more will come."""
        return self in (Stage.DONE, Stage.STOPPED, Stage.REFUSED, Stage.FAILED)


@dataclass(frozen=True, kw_only=True)
class Status:
    """How a making goes.

    ``share`` (0 to 1) and ``doing`` ("wear: strength on a hand") are the last that was told; ``step`` is the step's name.
    ``worked`` and ``kept`` are the steps whose results were worked anew, and those that were kept from before.
    ``mistakes`` where it was refused (bad input), ``fault`` one sentence where it failed. ``seconds`` since it began.
    """

    job: str
    key: str
    version: int
    stage: Stage
    share: float = 0.0
    doing: str = ""
    step: str = ""
    worked: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    seconds: float = 0.0
    verdict: Level | None = None
    mistakes: tuple[Mistake, ...] = ()
    fault: str = ""


@dataclass(frozen=True)
class FieldChange:
    """A field of the brief that differs: ``where`` as the file names it (``stone 'centre', cut``), before and after."""

    where: str
    before: Any
    after: Any


@dataclass(frozen=True)
class FigureChange:
    """A figure of a step that differs. ``before`` or ``after`` is None where it is not there."""

    step: str
    name: str
    help: str
    unit: str
    digits: int
    before: Any
    after: Any


@dataclass(frozen=True)
class Difference:
    """What differs between two versions. Remarks are plain data, with the ``step`` added.

    ``changed`` are pairs of remarks that stand in both with another level or figure. ``worked`` is false where one of
    the two was never worked through: then only ``fields`` and ``model`` tell.
    """

    fields: tuple[FieldChange, ...]
    model: tuple[str | None, str | None]
    worked: bool
    verdicts: tuple[Level | None, Level | None]
    figures: tuple[FigureChange, ...]
    gone: tuple[dict[str, Any], ...]
    new: tuple[dict[str, Any], ...]
    changed: tuple[tuple[dict[str, Any], dict[str, Any]], ...]


@dataclass(frozen=True)
class Shelf:
    """An open shelf. ``folder`` is None where only a database was named."""

    folder: Path | None


@contextmanager
def open_shelf(place: Path | str, *, database: str | None = None) -> Iterator[Shelf]:
    """The shelf of a folder, or of a database by URL (``postgresql+psycopg://…``), or of a folder with that database.

    A folder that is missing is made; the tables are brought to today's form. Ends what it started when it is left.
    Raises ``BadInput`` where the folder or the database cannot be used.
    """
    raise NotImplementedError


def take_up(shelf: Shelf) -> tuple[str, ...]:
    """Take up what changed in the folder since it was last looked at; the keys that changed (``""`` is the workshop)."""
    raise NotImplementedError


def cards(shelf: Shelf, *states: State) -> tuple[Card, ...]:
    """The commissions on the first page, those promised first coming first; open ones where no state is named."""
    raise NotImplementedError


def commission(shelf: Shelf, key: str, version: int | None = None) -> CommissionVersion:
    """A version of a commission, the newest where none is named. Raises ``BadInput`` where there is none."""
    raise NotImplementedError


def history(shelf: Shelf, key: str) -> tuple[CommissionVersion, ...]:
    """All versions of a commission, the newest first."""
    raise NotImplementedError


def create_commission(
    shelf: Shelf, text: str, *, by: str, key: str | None = None, model: ModelKept | None = None
) -> CommissionVersion:
    """A new commission with its first version. The key is made of its number where none is given.

    Raises ``BadInput`` with every mistake in the text; :class:`Conflict` where the key is taken.
    """
    raise NotImplementedError


def save_commission(
    shelf: Shelf, key: str, text: str, *, based_on: int, by: str, model: ModelKept | None = None
) -> CommissionVersion:
    """Save a text as the next version, and write it to the file. ``model`` replaces the model that ``model.file`` names.

    The same text and model again is no new version. Raises ``BadInput`` with every mistake in the text, and
    :class:`Conflict` where ``based_on`` is not the newest version (of the store or of the file on disk).
    """
    raise NotImplementedError


def set_state(shelf: Shelf, key: str, state: State) -> None:
    """Close or reopen a commission. One that is absent is written to the folder again when it is opened."""
    raise NotImplementedError


def workshop(shelf: Shelf, version: int | None = None) -> Version:
    """The workshop's text; ``BadInput`` where there is none yet."""
    raise NotImplementedError


def save_workshop(shelf: Shelf, text: str, *, based_on: int | None, by: str) -> Version:
    """Save the workshop; ``based_on`` None for the first. Raises as :func:`save_commission`."""
    raise NotImplementedError


def keep_model(shelf: Shelf, data: bytes, name: str) -> ModelKept:
    """Keep a model's bytes under their hash, to be given to a saving. Raises ``BadInput`` where it is too large."""
    raise NotImplementedError


def model_bytes(shelf: Shelf, digest: str) -> bytes:
    """The bytes of a model."""
    raise NotImplementedError


def look_at_model(shelf: Shelf, data: bytes, name: str, units: str | None = None) -> dict[str, Any]:
    """First figures of a dropped model, worked in a process of its own with limits of memory and time.

    Plain data: ``name, format, units, units_from, closed, mended, volume_mm3, area_mm2, extent_mm, mass_g`` and
    ``mass_spread_g`` (by alloy), ``hole`` (``diameter_mm, roundness_mm`` … or None), ``stones``, ``remarks``,
    ``triangles``, ``picture`` (PNG bytes or None), ``seconds``. Raises ``BadInput`` with one sentence for a file that is
    none, is too large, or needs more memory or time than it may have.
    """
    raise NotImplementedError


def warm_up(shelf: Shelf) -> None:
    """Start the process that looks at models, so that the first look is quick; returns at once."""
    raise NotImplementedError


def start_making(shelf: Shelf, key: str, version: int | None = None) -> str:
    """Begin to work a version through (the newest where none is named); the job's name.

    A making of the same commission that still waits or works is stopped first: its brief has changed.
    """
    raise NotImplementedError


def making_status(shelf: Shelf, job: str) -> Status:
    """How a making goes; ``BadInput`` for a job that is not known."""
    raise NotImplementedError


def makings(shelf: Shelf) -> tuple[Status, ...]:
    """All makings since the shelf was opened, the newest first; the last of each commission at least."""
    raise NotImplementedError


def stop_making(shelf: Shelf, job: str) -> None:
    """Stop a making; returns at once. Where it does not stop by itself soon, its process is ended."""
    raise NotImplementedError


def dossier(shelf: Shelf, key: str, version: int | None = None) -> DossierKept | None:
    """What the making of a version yielded, or None; without a version the newest that has been worked through."""
    raise NotImplementedError


def dossier_data(shelf: Shelf, key: str, version: int | None = None) -> dict[str, Any]:
    """``dossier.json`` of that dossier, read. Raises ``BadInput`` where there is none."""
    raise NotImplementedError


def dossier_file(shelf: Shelf, key: str, name: str, version: int | None = None) -> bytes:
    """One file of that dossier, by the name that ``DossierKept.files`` gives; ``BadInput`` where there is none."""
    raise NotImplementedError


def picture(shelf: Shelf, digest: str) -> bytes:
    """The PNG of a card's or a dossier's ``picture``; the same digest is always the same bytes."""
    raise NotImplementedError


def difference(shelf: Shelf, key: str, one: int, other: int) -> Difference:
    """What differs between two versions of a commission: brief, figures, remarks."""
    raise NotImplementedError


def export_to(shelf: Shelf, folder: Path) -> None:
    """Write everything on the shelf into a new folder of plain files, without loss; the folder is a workshop's too."""
    raise NotImplementedError


def import_from(shelf: Shelf, folder: Path) -> None:
    """Take everything in from a folder that :func:`export_to` wrote. The shelf must be empty (``BadInput``)."""
    raise NotImplementedError


def now() -> dt.datetime:
    """The moment, with its zone."""
    return dt.datetime.now(dt.UTC)
