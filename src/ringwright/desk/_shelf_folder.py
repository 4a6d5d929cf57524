"""The folder of a shelf: what changed in it is taken up, what is saved is written through to it.

The files say what is now. Whatever stands in one that is not the newest version becomes the next version, whoever wrote
it and whenever; nothing that was saved is lost by that, for all versions stay. A file is written before the transaction
that saves its version ends: a process that is killed between the two leaves a file that is taken up next time.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import secrets
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Any

import sqlalchemy as sa

from ringwright.desk._folder import MANIFEST
from ringwright.desk._heads import head_of, summary_of, workshop_mistakes
from ringwright.desk.planning import WORKSHOP, dossier_folder
from ringwright.desk.reading import LARGEST_FILE_BYTES, commission_in, workshop_in
from ringwright.papers import PICTURE
from ringwright.store import blobs, commissions, dossiers, seen, workshops
from ringwright.store.commissions import Text
from ringwright.store.kept import CommissionVersion, State
from ringwright.store.seen import Look
from ringwright.terms.mistake import BadInput, bad

SUFFIX = ".commission.toml"
BY_HAND = "hand in the file"
LARGEST_MODEL_BYTES = 512 * 2**20
"""A longer model is not taken up: none such is read."""
LARGEST_DOSSIER_BYTES = 1_000_000_000
MODEL, LOG = "model.file", "thermocouple.file"
"""The fields that name files which are kept with a version."""
MOST_BYTES = {MODEL: LARGEST_MODEL_BYTES, LOG: LARGEST_FILE_BYTES}
_WHAT = {MODEL: "model", LOG: "log"}

_SURE_NS = 2_000_000_000
"""A file that was changed less than this before it was looked at may have been changed again within the same tick."""


@dataclass(frozen=True)
class Folder:
    """A folder, and what it is called in the table of what was seen."""

    path: Path
    mark: str

    def commission(self, key: str) -> Path:
        """The file of a commission."""
        return self.path / f"{key}{SUFFIX}"

    def inside(self, name: str) -> Path | None:
        """The path of a file that a text names, where it lies in the folder; None where it does not."""
        parts = PurePosixPath(name)
        if not name or "\\" in name or "\0" in name or parts.is_absolute() or ".." in parts.parts:
            return None
        path = self.path / parts
        with suppress(OSError):
            if path.resolve().is_relative_to(self.path.resolve()):
                return path
        return None


@dataclass
class _Found:
    """What is to be taken up of one commission."""

    text: Text
    kept: tuple[bytes, ...]
    based_on: int | None


@dataclass
class _Survey:
    """What differs between folder and store."""

    found: dict[str, _Found] = field(default_factory=dict)
    states: dict[str, State] = field(default_factory=dict)
    notes: dict[str, Look] = field(default_factory=dict)
    workshop: bytes | None = None
    dossiers: dict[str, Path] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.found or self.states or self.notes or self.workshop is not None or self.dossiers)


def checked_key(key: str) -> str:
    """The key, where it is the name of one file in a folder. Raises ``BadInput`` where it is not."""
    fine = bool(key) and len(key) <= 100 and key.isprintable() and key.strip() == key and key[0] != "."
    if not fine or any(sign in key for sign in '/\\:*?"<>|'):
        raise bad("commission", f"{key[:40]!r} is no name of a commission", "use letters, digits and hyphens")
    return key


def take_up(db: sa.Connection, folder: Folder, now: dt.datetime) -> tuple[str, ...]:
    """Take up what changed; the keys of what did (``""`` is the workshop). ``db`` must be writing."""
    survey = surveyed(db, folder)
    changed = list(survey.states)
    for path, look in survey.notes.items():
        seen.note(db, folder.mark, path, look)
    if survey.workshop is not None:
        head = workshops.version(db)
        workshops.add(
            db,
            survey.workshop,
            based_on=head.number if head else None,
            by=BY_HAND,
            now=now,
            mistakes=workshop_mistakes(survey.workshop, WORKSHOP),
        )
        changed.append("")
    for key, found in survey.found.items():
        for data in found.kept:
            blobs.put(db, data, now)
        commissions.add(db, key, found.text, based_on=found.based_on, by=BY_HAND, now=now)
        changed.append(key)
    for key, state in survey.states.items():
        commissions.set_state(db, key, state)
    for key, place in survey.dossiers.items():
        if _dossier_taken_up(db, key, place):
            changed.append(key)
    return tuple(dict.fromkeys(changed))


def surveyed(db: sa.Connection, folder: Folder) -> _Survey:
    """What differs between folder and store; only files that changed since they were last looked at are read."""
    survey = _Survey()
    looks = seen.looks(db, folder.mark)
    heads = {head.key: head for head in commissions.heads(db)}
    there = dict(_commission_files(folder))
    for key, path in there.items():
        _survey_commission(folder, key, path, heads.get(key), looks, survey)
    for key, head in heads.items():
        if key not in there and head.state is State.OPEN:
            survey.states[key] = State.ABSENT
        elif key in there and head.state is State.ABSENT:
            survey.states[key] = State.OPEN
    shop = _looked(folder.path / WORKSHOP, WORKSHOP, looks, survey, LARGEST_FILE_BYTES)
    if shop is not None and shop[1] is not None:
        head_shop = workshops.version(db)
        if head_shop is None or head_shop.content != shop[1]:
            survey.workshop = shop[1]
    return survey


def write(db: sa.Connection, folder: Folder, name: str, data: bytes) -> None:
    """Write a file whole or not at all, see it on the disk, and note how it looks."""
    path = folder.path / name
    fresh = path.with_name(f".{path.name}.new-{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        if path.exists():
            fresh.chmod(path.stat().st_mode & 0o777)
        fresh.replace(path)
        _see(path.parent)
    except OSError as fault:
        with suppress(OSError):
            fresh.unlink()
        raise bad(
            str(path), f"cannot be written ({fault.strerror or fault})", "mend its permissions or the disk"
        ) from fault
    seen.note(db, folder.mark, name, _look(path.stat(), hashlib.sha256(data).hexdigest()))


def free_model_name(db: sa.Connection, folder: Folder | None, name: str, digest: str) -> str:
    """A file name for a model: ``name``, or with a number, so that no other model is ever written over."""
    stem, dot, suffix = name.rpartition(".")
    taken = {
        head.model_file: head.model.digest if head.model else None
        for head in commissions.heads(db)
        if head.model_file is not None
    }
    number = 1
    while True:
        tried = name if number == 1 else f"{stem or suffix}-{number}{dot}{suffix if stem else ''}"
        if taken.get(tried, digest) == digest and (folder is None or _free_or_same(folder.path / tried, digest)):
            return tried
        number += 1


def place(db: sa.Connection, folder: Folder, version: Text | CommissionVersion) -> None:
    """See that a version's model and log stand in the folder under their names.

    Raises ``BadInput`` where another stands there.
    """
    if isinstance(version, Text):
        wanted = ((MODEL, version.model_name, version.model_digest), (LOG, version.log_name, version.log_digest))
    else:
        digests = tuple(kept.digest if kept else None for kept in (version.model, version.log))
        wanted = ((MODEL, version.model_file, digests[0]), (LOG, version.log_file, digests[1]))
    for where, name, digest in wanted:
        if name is not None and digest is not None:
            _place(db, folder, where, name, digest)


def _place(db: sa.Connection, folder: Folder, where: str, name: str, digest: str) -> None:
    path = folder.inside(name)
    if path is None:
        raise outside(name, where)
    if path.exists():
        if not _free_or_same(path, digest):
            raise bad(where, f"another {_WHAT[where]} is called {name}", "give this one another name")
        return
    write(db, folder, PurePosixPath(name).as_posix(), blobs.get(db, digest))


def outside(name: str, where: str = MODEL) -> BadInput:
    """The mistake of a file that is not in the folder."""
    return bad(where, f"'{name}' is not in the workshop's folder", f"put the {_WHAT[where]} beside the commission")


def _commission_files(folder: Folder) -> Iterator[tuple[str, Path]]:
    for path in sorted(folder.path.glob(f"*{SUFFIX}")):
        with suppress(BadInput):
            key = checked_key(path.name.removesuffix(SUFFIX))
            if path.is_file() and not path.is_symlink():
                yield key, path


def _survey_commission(
    folder: Folder, key: str, path: Path, head: CommissionVersion | None, looks: dict[str, Look], survey: _Survey
) -> None:
    found = _looked(path, path.name, looks, survey, LARGEST_FILE_BYTES, again=head is None)
    if found is None:
        return
    content = found[1]
    if content is None or (head is not None and content == head.content):
        assert head is not None
        text = Text(
            content=head.content,
            order_number=head.order_number,
            title=head.title,
            due=head.due,
            mistakes=head.mistakes,
            model_name=head.model_file,
            log_name=head.log_file,
        )
    else:
        text = head_of(content, path.name)
    had = (None, None) if head is None else (head.model, head.log)
    known = tuple(kept.digest if kept is not None else None for kept in had)
    same = head is not None and head.model_file == text.model_name, head is not None and head.log_file == text.log_name
    model = _attached(folder, MODEL, text.model_name, known[0] if same[0] else None, looks, survey)
    log = _attached(folder, LOG, text.log_name, known[1] if same[1] else None, looks, survey)
    text = replace(
        text,
        model_digest=model.digest,
        log_digest=log.digest,
        mistakes=tuple(dict.fromkeys((*text.mistakes, *model.mistakes, *log.mistakes))),
    )
    if head is None or (text.content, text.model_digest, text.log_digest) != (head.content, *known):
        kept = tuple(one.data for one in (model, log) if one.data is not None)
        survey.found[key] = _Found(text, kept, head.number if head else None)
    place = dossier_folder(path)
    manifest = f"{place.name}/{MANIFEST}"
    if place.is_dir() and _looked(
        place / MANIFEST, manifest, looks, survey, LARGEST_DOSSIER_BYTES, again=False, read=False
    ):
        survey.dossiers[key] = place


@dataclass(frozen=True)
class _Attached:
    """A file that a text names: its hash, its bytes where they are new, what is wrong with it."""

    digest: str | None = None
    data: bytes | None = None
    mistakes: tuple[str, ...] = ()


def _attached(
    folder: Folder, where: str, name: str | None, known: str | None, looks: dict[str, Look], survey: _Survey
) -> _Attached:
    """The model or log of that name; ``known`` is the hash of what was taken up from it before."""
    if name is None:
        return _Attached()
    path = folder.inside(name)
    if path is None:
        return _Attached(mistakes=(str(outside(name, where).mistakes[0]),))
    found = _looked(path, PurePosixPath(name).as_posix(), looks, survey, MOST_BYTES[where], again=known is None)
    if found is None:
        # The file is gone (or never was): what was taken up from it before still holds.
        return _Attached(known)
    return _Attached(found[0], found[1] if found[0] != known else None)


def _looked(
    path: Path, name: str, looks: dict[str, Look], survey: _Survey, most: int, *, again: bool = False, read: bool = True
) -> tuple[str, bytes | None] | None:
    """Hash and content of a file, the content None where it did not change; None where there is no file to be read."""
    try:
        state = path.stat()
        if not path.is_file() or state.st_size > most:
            return None
        known = looks.get(name)
        if known is not None and not again and _same(known, state):
            return (known.digest, None) if read else None
        data = path.read_bytes()
    except OSError:
        return None
    digest = hashlib.sha256(data).hexdigest()
    look = _look(state, digest)
    if look != known:
        survey.notes[name] = look
    if not read and known is not None and known.digest == digest:
        return None
    return digest, data


def _look(state: os.stat_result, digest: str) -> Look:
    return Look(state.st_size, state.st_mtime_ns, time.time_ns(), digest)


def _same(known: Look, state: os.stat_result) -> bool:
    return (
        known.size == state.st_size
        and known.changed_ns == state.st_mtime_ns
        and known.looked_ns - known.changed_ns > _SURE_NS
    )


def _free_or_same(path: Path, digest: str) -> bool:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest() == digest
    except FileNotFoundError:
        return True
    except OSError:
        return False


def _see(folder: Path) -> None:
    """See a new name in a folder on the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _dossier_taken_up(db: sa.Connection, key: str, place: Path) -> bool:
    """Keep a dossier that the command line wrote, where it is of the newest version; whether it was."""
    try:
        manifest = (place / MANIFEST).read_bytes()
        head = commissions.version(db, key)
        if head is None or dossiers.file_digest(db, key, MANIFEST) == blobs.digest_of(manifest):
            return False
        data = json.loads(manifest)
        if not str(data["format"]).startswith("ringwright dossier") or data["commission"] != _as_data(head.text, key):
            return False
        shop = workshops.version(db)
        number = shop.number if shop is not None and data["workshop"] == _shop_as_data(shop.text) else None
        files = {MANIFEST: manifest} | {name: _file_of(place, name) for name in map(str, data["files"])}
        told = summary_of(data)
        made_at = dt.datetime.fromisoformat(data["made_at"])
        made_at = made_at if made_at.tzinfo is not None else made_at.replace(tzinfo=dt.UTC)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, BadInput):
        return False  # no dossier of this commission, or not whole: it is worked through anew
    dossiers.put(
        db,
        key,
        head.number,
        number,
        files,
        made_at=made_at,
        verdict=told.verdict,
        halts=told.halts,
        heeds=told.heeds,
        worst=told.worst,
        next_step=told.next_step,
        picture=files.get(PICTURE),
    )
    return True


def _file_of(place: Path, name: str) -> bytes:
    parts = PurePosixPath(name)
    path = place / parts
    if parts.is_absolute() or ".." in parts.parts or path.is_symlink():
        raise ValueError(name)
    return path.read_bytes()


def _as_data(text: str, key: str) -> Any:
    from ringwright.papers.plain import plain

    return plain(commission_in(text, f"{key}{SUFFIX}"))


def _shop_as_data(text: str) -> Any:
    from ringwright.papers.plain import plain

    return plain(workshop_in(text, WORKSHOP))
