"""Saving on the shelf, within one transaction: whose turn it is, what it began from, which model it names."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import Any, TypeVar

import sqlalchemy as sa

from ringwright.desk import _shelf_folder as files
from ringwright.desk._differences import FieldChange, field_changes
from ringwright.desk._folder import new_folder
from ringwright.desk._heads import head_of
from ringwright.desk._shelf_folder import Folder
from ringwright.desk.planning import WORKSHOP, dossier_folder
from ringwright.desk.reading import commission_in
from ringwright.store import Store, blobs, commissions, dossiers, workshops
from ringwright.store.kept import CommissionVersion, Conflict, ModelKept, State, Version
from ringwright.terms.mistake import BadInput, bad

T = TypeVar("T")


def moment() -> dt.datetime:
    """The moment, with its zone."""
    return dt.datetime.now(dt.UTC)


def version_of(db: sa.Connection, key: str, number: int | None = None) -> CommissionVersion:
    """A version of a commission, the newest without a number. Raises ``BadInput`` where there is none."""
    found = commissions.version(db, key, number)
    if found is not None:
        return found
    if number is not None and commissions.version(db, key) is not None:
        raise bad("commission", f"'{key}' has no version {number}", "name one of its history")
    raise bad("commission", f"there is no commission '{key}'", "open one of the first page")


def workshop_of(db: sa.Connection, number: int | None = None) -> Version:
    """A version of the workshop, the newest without a number. Raises ``BadInput`` where there is none."""
    found = workshops.version(db, number)
    if found is None:
        raise bad("workshop", "there is no workshop yet", "write one, or let `ringwright demo` write one to start from")
    return found


def in_turn(store: Store, folder: Folder | None, save: Callable[[sa.Connection], T]) -> T:
    """Save after the folder was taken up, in one turn: what stands in a file counts as saved before."""
    found: Conflict | None = None
    with store.writing() as db:
        if folder is not None:
            files.take_up(db, folder, moment())
        try:
            return save(db)
        except Conflict as fault:
            found = fault  # nothing was written by then; what was taken up must stay
    raise found


def saved(
    db: sa.Connection,
    folder: Folder | None,
    key: str,
    text: str,
    head: CommissionVersion | None,
    based_on: int | None,
    by: str,
    model: ModelKept | None,
    log: ModelKept | None = None,
) -> CommissionVersion:
    """Save a version and write it through, within a transaction."""
    name = f"{key}{files.SUFFIX}"
    told = head_of(text.encode(), name)
    had = (None, None) if head is None else (head.model, head.log)
    digests = (
        _digest(db, folder, files.MODEL, told.model_name, had[0], model),
        _digest(db, folder, files.LOG, told.log_name, had[1], log),
    )
    whole = replace(told, model_digest=digests[0], log_digest=digests[1])
    version = commissions.add(db, key, whole, based_on=based_on, by=by, now=moment())
    if folder is not None:
        files.place(db, folder, whole)
        files.write(db, folder, name, version.content)
    return version


def write_all(db: sa.Connection, folder: Folder) -> None:
    """Write the newest version of everything to the folder, and the dossiers that are of it."""
    shop = workshops.version(db)
    if shop is not None:
        files.write(db, folder, WORKSHOP, shop.content)
    for head in commissions.heads(db):
        if head.state is State.ABSENT:
            continue
        files.place(db, folder, head)
        files.write(db, folder, f"{head.key}{files.SUFFIX}", head.content)
        kept = dossiers.newest(db, head.key, head.number)
        if kept is not None:
            digests = {name: dossiers.file_digest(db, head.key, name, head.number) for name, _ in kept.files}
            with suppress(BadInput), new_folder(dossier_folder(folder.commission(head.key))) as put:
                put({name: blobs.get(db, digest) for name, digest in digests.items() if digest is not None})


def conflict(what: str, based_on: int | None, head: Version, began: Version | None) -> Conflict:
    """The conflict, with what differs between the version that was changed and the newest."""
    told: list[str] = []
    if isinstance(head, CommissionVersion) and isinstance(began, CommissionVersion):
        changes = changed_fields(began, head)
        told = [f"{one.where} from {_said(one.before)} to {_said(one.after)}" for one in changes[:3]]
        if len(changes) > 3:
            told.append(f"and {len(changes) - 3} more")
        if not told and model_digest(began) != model_digest(head):
            told = ["the model"]
        if not told and began.log != head.log:
            told = ["the thermocouple log"]
    return Conflict(what, based_on, head, tuple(told))


def changed_fields(one: CommissionVersion, other: CommissionVersion) -> tuple[FieldChange, ...]:
    """The fields that differ; where a text cannot be read, none can be told."""
    from ringwright.desk.writing import _plain

    try:
        before, after = (_plain(commission_in(text.text, f"{text.key}{files.SUFFIX}")) for text in (one, other))
    except BadInput:
        return ()
    return field_changes(before, after)


def model_digest(text: CommissionVersion) -> str | None:
    """The hash of a version's model."""
    return text.model.digest if text.model is not None else None


def free_key(db: sa.Connection, folder: Folder | None, wanted: str | None, number: str) -> str:
    """The key that is wanted, or one made of the commission's number, where it is not taken."""

    def taken(key: str) -> bool:
        on_disk = folder is not None and folder.commission(key).exists()
        return on_disk or commissions.version(db, key) is not None

    if wanted is not None:
        if taken(wanted):
            raise bad("commission", f"there is a commission '{wanted}' already", "choose another name")
        return wanted
    stem = re.sub(r"[^a-z0-9]+", "-", number.lower()).strip("-")[:60] or "commission"
    count = 1
    while taken(key := stem if count == 1 else f"{stem}-{count}"):
        count += 1
    return key


def plain_name(name: str) -> str:
    """The last part of a file's name as it came from elsewhere, with plain letters only."""
    last = re.split(r"[/\\]", name)[-1]
    stem, dot, suffix = last.rpartition(".")
    stem, suffix = (re.sub(r"[^A-Za-z0-9_-]+", "-", part).strip("-") for part in (stem, suffix))
    return f"{stem[:60] or 'model'}{dot}{suffix[:8].lower()}" if dot else stem[:60] or suffix[:60] or "model"


def no_model(name: str, where: str = files.MODEL) -> BadInput:
    """The mistake of a model or log that is not there."""
    if where == files.LOG:
        return bad(where, f"there is no log '{name}'", "put the log's file into the folder")
    return bad(where, f"there is no model '{name}'", "drop the model's file, or put it into the folder")


def _digest(
    db: sa.Connection,
    folder: Folder | None,
    where: str,
    name: str | None,
    had: ModelKept | None,
    given: ModelKept | None,
) -> str | None:
    """The hash of the model or log that a text names. Raises ``BadInput`` where there is none of that name."""
    what = "model" if where == files.MODEL else "log"
    if name is None:
        if given is not None:
            raise bad(where, f"the text does not name the {what} '{given.name}'", "write its name there")
        return None
    if given is not None:
        if name != given.name:
            raise bad(where, f"the text names '{name}', the {what} is '{given.name}'", f"write the {what}'s name")
        if blobs.size(db, given.digest) is None:
            raise bad(where, f"the {what} '{name}' is no longer kept", "drop the file again")
        return given.digest
    if had is not None and had.name == name:
        return had.digest
    path = folder.inside(name) if folder is not None else None
    if folder is not None and path is None:
        raise files.outside(name, where)
    if path is None or not path.is_file() or path.stat().st_size > files.MOST_BYTES[where]:
        raise no_model(name, where)
    return blobs.put(db, path.read_bytes(), moment())


def _said(value: Any) -> str:
    return "nothing" if value is None else f"'{value}'"
