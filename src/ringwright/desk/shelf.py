"""The workshop's shelf: every commission with its versions, models and dossiers, and their making in the background.

What the app of the workshop does, it does through these functions; all may be called from any thread.

* **Opening.** ``with open_shelf(folder) as shelf:`` The folder is the one that the command line works in:
  ``*.commission.toml``, models, ``workshop.toml``, ``*.dossier/``. Beside them stands ``ringwright.sqlite``, which
  keeps what files cannot: versions, verdicts, pictures. The files say what is now: :func:`take_up` (called by
  :func:`cards` and before every saving) makes a version of what was changed by hand, every saving is written through.
* **Reading.** :func:`cards`, :func:`commission`, :func:`history`, :func:`dossier`, :func:`dossier_data`,
  :func:`dossier_file`, :func:`picture`, :func:`workshop`, :func:`difference`.
* **Saving.** :func:`create_commission`, :func:`save_commission`, :func:`save_workshop`, :func:`set_state`, and
  :func:`text_with_gates`, which gives a text to be saved. A saving
  names the version that it began from; where another was saved since, it raises :class:`Conflict` and nothing is lost.
* **Models.** :func:`look_at_model` (first figures and a picture, in a process with limits), :func:`keep_model`,
  :func:`model_bytes`. :func:`keep_log` keeps a thermocouple log likewise.
* **Making.** :func:`start_making`, :func:`making_status`, :func:`making_figures`, :func:`makings`, :func:`stop_making`:
  one after the other, in one process beside this one.
* **Moving.** :func:`export_to`, :func:`import_from`: plain files, without loss.

``by`` is who saves, in words for other pages to read ("this page", "the bench tablet"). A commission's key is its
file's name without ``.commission.toml``; what is no name of a file raises ``BadInput``.
"""

from __future__ import annotations

import datetime as dt
import json
import platform
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa

from ringwright.desk import _saving
from ringwright.desk import _shelf_folder as files
from ringwright.desk._differences import (
    Difference,
    FieldChange,
    FigureChange,
    figure_changes,
    remark_changes,
)
from ringwright.desk._gates import GateShown, feeders_of, gates_of, with_gates
from ringwright.desk._heads import decoded
from ringwright.desk._looking import LARGEST_UPLOAD_BYTES, Looking
from ringwright.desk._makings import Makings, Order, Stage, Status
from ringwright.desk._readable import readable
from ringwright.desk._shelf_folder import Folder, checked_key
from ringwright.desk._thermocouple import logs_in
from ringwright.desk.planning import WORKSHOP
from ringwright.desk.reading import commission_in, workshop_in
from ringwright.store import Store, blobs, commissions, dossiers, sqlite_url, workshops
from ringwright.store.kept import Card, CommissionVersion, Conflict, DossierKept, ModelKept, State, Version
from ringwright.terms.mistake import BadInput, bad
from ringwright.terms.remark import Point

__all__ = [
    "LARGEST_UPLOAD_BYTES",
    "Card",
    "CommissionVersion",
    "Conflict",
    "Difference",
    "DossierKept",
    "FieldChange",
    "FigureChange",
    "GateShown",
    "ModelKept",
    "Shelf",
    "Stage",
    "State",
    "Status",
    "Version",
    "feeders_of",
    "gates_of",
]

DATABASE = "ringwright.sqlite"
"""The database of a folder."""

UNUSED_DAYS = 7
"""A model that was kept but never saved with a commission is removed after so many days."""


class Shelf:
    """An open shelf. ``folder`` is None where only a database was named. Made by :func:`open_shelf`."""

    def __init__(self, store: Store, folder: Folder | None) -> None:
        self._store = store
        self._folder = folder
        self._makings = Makings()
        self._looking = Looking()

    @property
    def folder(self) -> Path | None:
        """The folder whose files are taken up and written through."""
        return self._folder.path if self._folder else None

    @property
    def database(self) -> str:
        """Where the database is, as a person may see it."""
        return self._store.shown

    def close(self) -> None:
        """Stop every making, end the processes, and close the database."""
        self._looking.close()
        self._makings.close()
        self._store.close()

    def __enter__(self) -> Shelf:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_shelf(place: Path | str, *, database: str | None = None) -> Shelf:
    """The shelf of a folder, or of a database by URL (``postgresql+psycopg://…``), or of a folder with that database.

    A folder that is missing is made; the tables are brought to today's form. The shelf must be closed, or used as a
    context. Raises ``BadInput`` where the folder or the database cannot be used.
    """
    if isinstance(place, str) and "://" in place:
        return Shelf(_swept(Store(place)), None)
    path = Path(place)
    try:
        path.mkdir(parents=True, exist_ok=True)
        path = path.resolve()
    except OSError as fault:
        raise bad(str(path), f"cannot be used as a folder ({fault.strerror})", "name another folder") from fault
    if database is not None:
        return Shelf(_swept(Store(database)), Folder(path, f"{platform.node()}:{path}"[-500:]))
    return Shelf(_swept(Store(sqlite_url(path / DATABASE))), Folder(path, ""))


def take_up(shelf: Shelf) -> tuple[str, ...]:
    """Take up what changed in the folder since it was last looked at; the keys that changed (``""``: the workshop)."""
    if shelf._folder is None:
        return ()
    with shelf._store.reading() as db:
        if not files.surveyed(db, shelf._folder):
            return ()
    with shelf._store.writing() as db:
        return files.take_up(db, shelf._folder, _saving.moment())


def cards(shelf: Shelf, *states: State) -> tuple[Card, ...]:
    """The commissions for the first page, those promised first coming first; open ones where no state is named."""
    take_up(shelf)
    with shelf._store.reading() as db:
        return commissions.cards(db, states or (State.OPEN,))


def commission(shelf: Shelf, key: str, version: int | None = None) -> CommissionVersion:
    """A version of a commission, the newest where none is named. Raises ``BadInput`` where there is none."""
    with shelf._store.reading() as db:
        return _saving.version_of(db, key, version)


def history(shelf: Shelf, key: str) -> tuple[CommissionVersion, ...]:
    """All versions of a commission, the newest first."""
    with shelf._store.reading() as db:
        _saving.version_of(db, key)
        return commissions.versions(db, key)


def create_commission(
    shelf: Shelf,
    text: str,
    *,
    by: str,
    key: str | None = None,
    model: ModelKept | None = None,
    log: ModelKept | None = None,
) -> CommissionVersion:
    """A new commission with its first version, and its file. The key is made of its number where none is given.

    Raises ``BadInput`` with every mistake in the text, and where the key is taken.
    """
    wanted = checked_key(key) if key is not None else None
    found = commission_in(text, f"{wanted or 'commission'}{files.SUFFIX}")
    take_up(shelf)
    with shelf._store.writing() as db:
        name = _saving.free_key(db, shelf._folder, wanted, found.commission.number)
        return _saving.saved(db, shelf._folder, name, text, None, None, by, model, log)


def save_commission(
    shelf: Shelf,
    key: str,
    text: str,
    *,
    based_on: int,
    by: str,
    model: ModelKept | None = None,
    log: ModelKept | None = None,
) -> CommissionVersion:
    """Save a text as the next version, and write it to the file.

    ``model`` (from :func:`keep_model`) is the model that the text's ``model.file`` names; without it, the model of that
    name that the former version had or that stands in the folder; ``log`` is likewise the thermocouple log that
    ``thermocouple.file`` names. The same text, model and log again is no new version.
    Raises ``BadInput`` with every mistake in the text, and :class:`Conflict` where ``based_on`` is not the newest
    version, of the store or of the file on disk.
    """
    commission_in(text, f"{checked_key(key)}{files.SUFFIX}")

    def save(db: sa.Connection) -> CommissionVersion:
        head = _saving.version_of(db, key)
        if head.number != based_on:
            raise _saving.conflict(f"commission '{key}'", based_on, head, commissions.version(db, key, based_on))
        return _saving.saved(db, shelf._folder, key, text, head, based_on, by, model, log)

    return _saving.in_turn(shelf._store, shelf._folder, save)


def set_state(shelf: Shelf, key: str, state: State) -> None:
    """Close or reopen a commission. The file of one that is absent is written again when it is opened."""
    if state is State.ABSENT:
        raise bad("state", "a commission is absent when its file is taken away", "take the file out of the folder")
    with shelf._store.writing() as db:
        head = _saving.version_of(db, key)
        if shelf._folder is not None and state is State.OPEN and not shelf._folder.commission(key).exists():
            files.place(db, shelf._folder, head)
            files.write(db, shelf._folder, f"{key}{files.SUFFIX}", head.content)
        commissions.set_state(db, key, state)


def workshop(shelf: Shelf, version: int | None = None) -> Version:
    """The workshop's text, the newest where no version is named; ``BadInput`` where there is none yet."""
    take_up(shelf)
    with shelf._store.reading() as db:
        return _saving.workshop_of(db, version)


def workshop_history(shelf: Shelf) -> tuple[Version, ...]:
    """All versions of the workshop, the newest first."""
    with shelf._store.reading() as db:
        return workshops.versions(db)


def save_workshop(shelf: Shelf, text: str, *, based_on: int | None, by: str) -> Version:
    """Save the workshop; ``based_on`` None for the first. Raises as :func:`save_commission`."""
    workshop_in(text, WORKSHOP)

    def save(db: sa.Connection) -> Version:
        head = workshops.version(db)
        if head is not None and head.number != based_on:
            raise _saving.conflict(
                "the workshop", based_on, head, workshops.version(db, based_on) if based_on else None
            )
        saved = workshops.add(db, text.encode(), based_on=based_on, by=by, now=_saving.moment())
        if shelf._folder is not None:
            files.write(db, shelf._folder, WORKSHOP, saved.content)
        return saved

    return _saving.in_turn(shelf._store, shelf._folder, save)


def keep_model(shelf: Shelf, data: bytes, name: str) -> ModelKept:
    """Keep a model's bytes under their hash, to be given to a saving whose text names it in ``model.file``.

    ``name`` is what the file was called where it came from; the name that is given back is one that no other model has,
    and is what the text must say. Raises ``BadInput`` where it is empty or too large.
    """
    if not data or len(data) > LARGEST_UPLOAD_BYTES:
        raise _wrong_size(name, len(data))
    plain = _saving.plain_name(name)
    with shelf._store.writing() as db:
        digest = blobs.put(db, data, _saving.moment())
        free = files.free_model_name(db, shelf._folder, plain, digest)
    return ModelKept(digest=digest, size=len(data), name=free)


def keep_log(shelf: Shelf, data: bytes, name: str) -> ModelKept:
    """Keep a thermocouple log's bytes likewise, to be named by ``thermocouple.file``.

    Raises ``BadInput`` with every mistake in it, told by its line.
    """
    plain = _saving.plain_name(name)
    logs_in(decoded(data, plain), plain)
    return keep_model(shelf, data, name)


def model_bytes(shelf: Shelf, digest: str) -> bytes:
    """The bytes of a model or a log. Raises ``BadInput`` where there is none."""
    return _blob(shelf, digest)


def look_at_model(shelf: Shelf, data: bytes, name: str, units: str | None = None) -> dict[str, Any]:
    """First figures of a dropped model, worked in a process of its own with limits of memory and time.

    Plain data: ``name, format, units, units_from, closed, mended, volume_mm3, area_mm2, extent_mm, mass_g`` and
    ``mass_spread_g`` (by alloy), ``hole`` (``diameter_mm, roundness_mm`` … or None), ``stones``, ``remarks``,
    ``triangles``, ``seconds``, and ``picture`` (PNG bytes or None). Raises ``BadInput`` with one sentence for a file
    that is no model, is too large, or needs more memory or time than it may have.
    """
    if not data or len(data) > LARGEST_UPLOAD_BYTES:
        raise _wrong_size(name, len(data))
    return shelf._looking.look(data, _saving.plain_name(name), units)


def warm_up(shelf: Shelf) -> None:
    """Make the process that looks at models ready, so that the first look is quick; returns at once."""
    shelf._looking.warm_up()


def start_making(shelf: Shelf, key: str, version: int | None = None) -> str:
    """Begin to work a version through (the newest where none is named); the job's name.

    It begins when the makings before it are over. One of the same commission that still waits or works is stopped: its
    brief has changed. Raises ``BadInput`` where there is no such version.
    """
    with shelf._store.reading() as db:
        found = _saving.version_of(db, key, version)
    return shelf._makings.begin(key, found.number, lambda: _order(shelf, key, found.number))


def making_status(shelf: Shelf, job: str) -> Status:
    """How a making goes; ``BadInput`` for a job that is not known."""
    return shelf._makings.status(job)


def making_figures(shelf: Shelf, job: str) -> dict[str, Any] | None:
    """What ``dossier.json`` will say, as soon as it is worked and before papers and solids are written; else None."""
    return shelf._makings.figures(job)


def wait_for_making(shelf: Shelf, job: str, seconds: float) -> Status:
    """Wait until a making is over, at most so long; how it goes then."""
    return shelf._makings.wait(job, seconds)


def makings(shelf: Shelf) -> tuple[Status, ...]:
    """All makings since the shelf was opened, the newest first (of those that are over, the last two hundred)."""
    return shelf._makings.all()


def stop_making(shelf: Shelf, job: str) -> None:
    """Stop a making; returns at once. Where it does not stop by itself soon, its process is ended."""
    shelf._makings.stop(job)


def dossier(shelf: Shelf, key: str, version: int | None = None) -> DossierKept | None:
    """What the making of a version yielded, or None; without a version the newest that has been worked through."""
    with shelf._store.reading() as db:
        return dossiers.newest(db, key, version)


def dossier_data(shelf: Shelf, key: str, version: int | None = None) -> dict[str, Any]:
    """``dossier.json`` of that dossier, read. Raises ``BadInput`` where there is none, or another version wrote it."""
    found: dict[str, Any] = json.loads(dossier_file(shelf, key, "dossier.json", version))
    if not readable(found):
        raise bad("dossier", "it was worked by another version of Ringwright", "work the commission through anew")
    return found


def dossier_file(shelf: Shelf, key: str, name: str, version: int | None = None) -> bytes:
    """One file of that dossier, by the name that ``DossierKept.files`` gives; ``BadInput`` where there is none."""
    with shelf._store.reading() as db:
        digest = dossiers.file_digest(db, key, name, version)
        if digest is None:
            raise bad("dossier", f"the dossier of '{key}' has no file {name}", "work the commission through")
        return blobs.get(db, digest)


def picture(shelf: Shelf, digest: str) -> bytes:
    """The PNG of a card's or a dossier's ``picture``; the same digest is always the same bytes."""
    return _blob(shelf, digest)


def text_with_gates(
    shelf: Shelf, key: str, based_on: int, points_mm: Sequence[Point], feeders_mm: Sequence[Point] = ()
) -> str:
    """The text of a version with the tree's gates at those places of the ring (none: they are proposed), and with
    blind feeders at those.

    The places are in the ring's frame, as the newest dossier shows the ring. Raises ``BadInput`` where there is none
    yet, or where the version has another model than the one that was worked.
    """
    head = commission(shelf, key, based_on)
    kept = dossier(shelf, key)
    if kept is None:
        raise bad("tree.gates", "the ring has not been worked through", "work the commission through first")
    if _saving.model_digest(commission(shelf, key, kept.version)) != _saving.model_digest(head):
        raise bad("tree.gates", "the ring that was worked is of another model", "work the commission through first")
    data = dossier_data(shelf, key, kept.version)
    return with_gates(head.text, f"{key}{files.SUFFIX}", data, points_mm, feeders_mm)


def difference(shelf: Shelf, key: str, one: int, other: int) -> Difference:
    """What differs between two versions of a commission: brief, figures, remarks."""
    with shelf._store.reading() as db:
        texts = [_saving.version_of(db, key, number) for number in (one, other)]
        kept = [dossiers.newest(db, key, number) for number in (one, other)]
        digests = [dossiers.file_digest(db, key, "dossier.json", number) for number in (one, other)]
        data = [json.loads(blobs.get(db, digest)) if digest is not None else None for digest in digests]
    found = Difference(
        fields=_saving.changed_fields(texts[0], texts[1]),
        model=(_saving.model_digest(texts[0]), _saving.model_digest(texts[1])),
        worked=False,
        verdicts=(kept[0].verdict if kept[0] else None, kept[1].verdict if kept[1] else None),
    )
    if data[0] is None or data[1] is None or not all(map(readable, data)):
        return found
    gone, new, changed = remark_changes(data[0], data[1])
    return replace(found, worked=True, figures=figure_changes(data[0], data[1]), gone=gone, new=new, changed=changed)


def export_to(shelf: Shelf, folder: Path) -> None:
    """Write everything on the shelf into a new folder of plain files, without loss.

    What is now stands in it as in any workshop's folder, what was in its folder ``history``. Raises ``BadInput`` where
    the folder is not empty or cannot be written.
    """
    from ringwright.desk._moving import export

    take_up(shelf)
    with shelf._store.reading() as db:
        export(db, folder)


def import_from(shelf: Shelf, folder: Path) -> None:
    """Take everything in from a folder that :func:`export_to` wrote. The shelf must be empty (``BadInput``)."""
    from ringwright.desk._moving import take_in

    take_up(shelf)
    with shelf._store.writing() as db:
        take_in(db, folder)
        if shelf._folder is not None:
            _saving.write_all(db, shelf._folder)


def _order(shelf: Shelf, key: str, number: int) -> Order:
    """What a making needs. Raises ``BadInput`` where the text has mistakes or its model is not there."""
    take_up(shelf)
    with shelf._store.reading() as db:
        found = _saving.version_of(db, key, number)
        shop = _saving.workshop_of(db)
        told = commission_in(found.text, f"{key}{files.SUFFIX}")
        if found.model is None and found.model_file is not None:
            if shelf._folder is not None and shelf._folder.inside(found.model_file) is None:
                raise files.outside(found.model_file)
            raise _saving.no_model(found.model_file)
        model = blobs.get(db, found.model.digest) if found.model is not None else None
        if found.log is None and told.thermocouple is not None:
            raise files.outside(told.thermocouple.file, files.LOG)
        log = blobs.get(db, found.log.digest) if found.log is not None else None
    data = {
        "url": shelf._store.url,
        "folder": str(shelf.folder) if shelf.folder is not None else None,
        "key": key,
        "version": number,
        "workshop": shop.number,
        "model": found.model_file if model is not None else None,
        "log": found.log_file if log is not None else None,
    }
    attached = (found.content, shop.content, *(part for part in (model, log) if part is not None))
    return Order(key, number, data, attached)


def _wrong_size(name: str, size: int) -> BadInput:
    if size == 0:
        return bad(_saving.plain_name(name), "the file is empty", "export the model again")
    most = LARGEST_UPLOAD_BYTES // 2**20
    return bad(
        _saving.plain_name(name),
        f"it has {size // 2**20:,} MiB",
        f"at most {most} MiB are taken: export it with a coarser tolerance, 0.005 mm is fine enough for a ring",
    )


def _blob(shelf: Shelf, digest: str) -> bytes:
    with shelf._store.reading() as db:
        try:
            return blobs.get(db, digest)
        except KeyError as fault:
            raise bad("content", f"nothing is kept under {digest[:12]}", "look at the first page again") from fault


def _swept(store: Store) -> Store:
    """The store, without what was kept long ago and never used."""
    before = _saving.moment() - dt.timedelta(days=UNUSED_DAYS)
    try:
        with store.reading() as db:
            unused = blobs.unused(db, before)
        if unused:
            with store.writing() as db:
                blobs.sweep(db, before)
    except BaseException:
        store.close()
        raise
    return store
