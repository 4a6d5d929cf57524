"""Working a commission through: from the files that say it to the folder that holds all it yields."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ringwright.desk._folder import new_folder
from ringwright.desk._thermocouple import logs_in
from ringwright.desk.keeping import Keeping, cache_folder
from ringwright.desk.reading import commission_in, located, text_of, workshop_in
from ringwright.terms.commission import Commission
from ringwright.terms.mistake import BadInput, Mistake, bad
from ringwright.terms.pour import ThermocoupleLog
from ringwright.terms.progress import Aside, Keep, Progress, silent
from ringwright.terms.remark import Level
from ringwright.terms.workshop import Workshop

if TYPE_CHECKING:
    from ringwright.terms.facts import Facts
    from ringwright.terms.making import Making

WORKSHOP = "workshop.toml"
"""The workshop that is used where none is named: the one beside the commission."""

LARGEST_MODEL_BYTES = 1_000_000_000
"""A model is read into memory whole; a longer file is refused before that."""


@dataclass(frozen=True)
class Ordered:
    """What a commission's files say, read and whole: the model's bytes too, and the shop's own logs of the pour.

    ``thorough`` asks for the whole search of the pour, whatever the commission says.
    """

    commission: Commission
    workshop: Workshop
    model: bytes | None
    logs: tuple[ThermocoupleLog, ...] = ()
    thorough: bool = False


@dataclass(frozen=True)
class Planned:
    """A commission worked through: the making, and the folder of its dossier with the files in it."""

    making: Making
    folder: Path
    files: tuple[str, ...]
    verdict: Level


def plan(
    commission: Path,
    workshop: Path | None = None,
    out: Path | None = None,
    *,
    now: dt.datetime,
    thorough: bool = False,
    progress: Progress = silent,
    keep: Keep | None = None,
) -> Planned:
    """Work a commission through and put its dossier into the folder ``out``.

    Without ``workshop`` the file ``workshop.toml`` beside the commission is used; without ``out`` the dossier's folder
    is the commission's name with ``.dossier``. The folder is replaced in one step when all is written: until then,
    and after any fault, a former dossier stays as it was. ``thorough`` searches the way of leading the metal in by
    freezing, and reckons the pour finer.

    Raises :class:`BadInput` with every mistake in the files, and where the folder cannot be written (before any
    work), ``ComputingFault`` where a computation failed, ``Stopped`` where ``progress`` asked to stop.
    """
    from ringwright import papers
    from ringwright.desk._aside import Apart
    from ringwright.desk._rehearsal import compile_ahead

    ordered = replace(read_order(commission, workshop, today=now.date()), thorough=thorough)
    folder = out if out is not None else dossier_folder(commission)
    with new_folder(folder) as put, Apart() as aside:
        compile_ahead(aside)
        making = worked(ordered, commission, today=now.date(), progress=progress, keep=keep, aside=aside)
        progress(1.0, "writing the dossier")
        files = papers.files_of(making, now, aside)
        put(files)
    from ringwright.papers.dossier import verdict_of

    return Planned(making, folder, tuple(sorted(files)), verdict_of(making))


def dossier_folder(commission: Path) -> Path:
    """The folder of a commission's dossier where none is named: ``ring.commission.toml`` gives ``ring.dossier``."""
    stem = commission.name.removesuffix(".toml").removesuffix(".commission")
    return commission.parent / f"{stem}.dossier"


def read_order(commission: Path, workshop: Path | None = None, *, today: dt.date | None = None) -> Ordered:
    """Both files and the model, read and checked; raises :class:`BadInput` with the mistakes of all of them."""
    faults: list[Mistake] = []
    order = shop = None
    try:
        order = commission_in(text_of(commission), commission.name, today)
    except BadInput as fault:
        faults.extend(fault.mistakes)
    try:
        shop = _workshop(commission, workshop)
    except BadInput as fault:
        faults.extend(fault.mistakes)
    model = None
    if order is not None and order.model is not None:
        try:
            model = _model(commission.parent / order.model.file)
        except BadInput as fault:
            faults.extend(located(fault, commission, text_of(commission)).mistakes)
    logs: tuple[ThermocoupleLog, ...] = ()
    if order is not None and order.thermocouple is not None:
        try:
            logs = _logs(commission.parent / order.thermocouple.file)
        except BadInput as fault:
            faults.extend(located(fault, commission, text_of(commission)).mistakes)
    if order is not None and shop is not None and order.commission.currency != shop.shop.currency:
        two = bad(
            "commission.currency",
            f"the commission is in {order.commission.currency}, the workshop's prices are in {shop.shop.currency}",
            "write one currency in both files",
        )
        faults.extend(located(two, commission, text_of(commission)).mistakes)
    if faults or order is None or shop is None:
        raise BadInput(*faults)
    return Ordered(order, shop, model, logs)


def worked(
    ordered: Ordered,
    commission: Path,
    *,
    today: dt.date,
    progress: Progress = silent,
    keep: Keep | None = None,
    aside: Aside | None = None,
) -> Making:
    """The making of an order; mistakes that a step finds are told with the commission's file and line.

    ``aside`` is where steps are worked that little waits for (None: in a thread).
    """
    from ringwright import facts

    keep = keep if keep is not None else Keeping(cache_folder() / "kept")
    try:
        # Read and checked once for as long as the tables stay the same: that takes as long as some of the steps.
        return _work(ordered, keep("facts", facts.read, *facts.texts()), today, keep, progress, aside)
    except BadInput as fault:
        raise located(fault, commission, text_of(commission)) from fault


def _work(
    ordered: Ordered, facts: Facts, today: dt.date, keep: Keep, progress: Progress, aside: Aside | None
) -> Making:
    from ringwright import making

    return making.work(
        ordered.commission,
        ordered.workshop,
        facts,
        today=today,
        model=ordered.model,
        logs=ordered.logs,
        thorough=ordered.thorough,
        keep=keep,
        progress=progress,
        aside=aside,
    )


def _workshop(commission: Path, workshop: Path | None) -> Workshop:
    path = workshop if workshop is not None else commission.parent / WORKSHOP
    if workshop is None and not path.is_file():
        raise bad(
            str(path),
            "there is no workshop",
            "name one with --workshop, or let `ringwright demo` write one to start from",
        )
    return workshop_in(text_of(path), path.name)


def _model(path: Path) -> bytes:
    """The bytes of the model file; the place of its mistakes is the commission's field."""
    where = "model.file"
    try:
        if path.stat().st_size > LARGEST_MODEL_BYTES:
            raise bad(where, f"{path.name} is larger than 1 GB", "export the model with fewer triangles")
        return path.read_bytes()
    except FileNotFoundError as fault:
        raise bad(where, f"there is no file {path}", "name the model's file, relative to this commission") from fault
    except OSError as fault:
        raise bad(where, f"{path} cannot be read ({fault.strerror})", "name a file that can be read") from fault


def _logs(path: Path) -> tuple[ThermocoupleLog, ...]:
    """The logs in a file; where there is no such file, the place of the mistake is the commission's field."""
    if not path.is_file():
        what = f"there is no file {path}"
        raise bad("thermocouple.file", what, "name the log's file (CSV), relative to this commission")
    return logs_in(text_of(path, "a log in CSV"), path.name)
