"""What the store hands out: frozen values, never rows of a table."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from ringwright.terms.mistake import BadInput, Mistake
from ringwright.terms.remark import Level


class State(StrEnum):
    """Where a commission stands on the shelf. ``absent``: its file was taken out of the folder by hand."""

    OPEN = "open"
    CLOSED = "closed"
    ABSENT = "absent"


@dataclass(frozen=True, kw_only=True)
class Version:
    """One saving of a text: its number (1, 2, …), the number that it was based on, when and by whom."""

    number: int
    based_on: int | None
    saved_at: dt.datetime
    by: str
    content: bytes = field(repr=False)
    mistakes: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The text as written; what is not UTF-8 in it is replaced."""
        return self.content.decode("utf-8-sig", errors="replace")


@dataclass(frozen=True, kw_only=True)
class ModelKept:
    """A model's or a log's bytes in the store: their hash, their number, and the name of the file."""

    digest: str
    size: int
    name: str


@dataclass(frozen=True, kw_only=True)
class CommissionVersion(Version):
    """One version of a commission: its text, what its head says, and the model and the log that it goes with.

    ``model_file`` is what its text names; ``model`` is None where no such file was ever there. ``log_file`` and ``log``
    are the same of the shop's own thermocouple log.
    """

    key: str
    state: State
    head: int
    title: str = ""
    order_number: str = ""
    due: dt.date | None = None
    model_file: str | None = None
    model: ModelKept | None = None
    log_file: str | None = None
    log: ModelKept | None = None

    @property
    def newest(self) -> bool:
        """Whether no later version was saved."""
        return self.number == self.head


@dataclass(frozen=True, kw_only=True)
class DossierKept:
    """What the making of a version yielded. ``files``: name and size of each; ``worst``: a remark as plain data."""

    key: str
    version: int
    workshop: int | None
    made_at: dt.datetime
    verdict: Level
    halts: int
    heeds: int
    worst: dict[str, Any] | None
    next_step: str
    picture: str | None
    files: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Card:
    """One open commission, as the first page shows it.

    ``dossier`` is that of the newest version that has one; ``stale`` says why it is not of today's text or workshop
    ("" where it is). ``mistakes`` are those of the text, where it cannot be worked at all.
    """

    key: str
    state: State
    version: int
    saved_at: dt.datetime
    order_number: str
    title: str
    due: dt.date | None
    mistakes: tuple[str, ...]
    dossier: DossierKept | None
    stale: str

    @property
    def next_step(self) -> str:
        """What is to be done next, in a few words."""
        if self.mistakes:
            return "mend the brief: it cannot be read"
        if self.dossier is None or self.stale:
            return "work it through"
        return self.dossier.next_step


class Conflict(BadInput):
    """Someone else saved a version since the one that was changed here. Nothing was saved.

    ``head`` is that version; ``based_on`` the number that the refused one began from; ``changed`` what differs
    between the two, in plain words (filled in by the desk).
    """

    def __init__(self, what: str, based_on: int | None, head: Version, changed: tuple[str, ...] = ()) -> None:
        told = f"{what} was changed by {head.by} at {head.saved_at:%Y-%m-%d %H:%M} (version {head.number}"
        told += f"; yours began from {based_on})" if based_on else ")"
        if changed:
            told += ": " + "; ".join(changed)
        super().__init__(Mistake(what, told, "look at both, and save yours upon the newer one"))
        self.what = what
        self.based_on = based_on
        self.head = head
        self.changed = changed
