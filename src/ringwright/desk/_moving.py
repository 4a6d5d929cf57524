"""Everything on a shelf as plain files, and back, without loss.

In the folder stands what is now, as in any workshop's folder: ``workshop.toml``, ``*.commission.toml``, the models
under the names that they say, ``*.dossier/``. In ``history`` stands what was: every version of every text, every
model and log under its hash, every dossier; ``shelf.json`` says when each was saved, by whom, and upon which.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Any

import sqlalchemy as sa

from ringwright.desk._shelf_folder import SUFFIX, Folder, checked_key
from ringwright.desk.planning import WORKSHOP, dossier_folder
from ringwright.store import blobs, commissions, dossiers, workshops
from ringwright.store.commissions import Text
from ringwright.store.kept import CommissionVersion, DossierKept, State, Version
from ringwright.terms.mistake import bad
from ringwright.terms.remark import Level

FORMAT = "ringwright shelf 1"
HISTORY = "history"
MANIFEST = f"{HISTORY}/shelf.json"


def export(db: sa.Connection, folder: Path) -> None:
    """Write everything into a folder that is empty or missing. Raises ``BadInput`` where that cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise bad(str(folder), "the folder is not empty", "name a new one")
        manifest: dict[str, Any] = {"format": FORMAT, "workshop": [], "commissions": []}
        for shop in reversed(workshops.versions(db)):
            manifest["workshop"].append(_told(shop))
            _write(folder, f"{HISTORY}/workshop/{shop.number:04d}.toml", shop.content)
        newest = workshops.version(db)
        if newest is not None:
            _write(folder, WORKSHOP, newest.content)
        for head in commissions.heads(db):
            manifest["commissions"].append(_commission(db, folder, head))
        _write(folder, MANIFEST, (json.dumps(manifest, ensure_ascii=False, indent=1) + "\n").encode())
    except OSError as fault:
        raise bad(str(folder), f"cannot be written ({fault.strerror or fault})", "name another folder") from fault


def take_in(db: sa.Connection, folder: Path) -> None:
    """Take everything in from such a folder. Raises ``BadInput`` where the store is not empty, or the folder not whole.

    What it raises leaves the transaction to be undone.
    """
    if workshops.version(db) is not None or next(commissions.heads(db), None) is not None:
        raise bad("shelf", "the shelf is not empty", "open a new folder and import into that")
    try:
        manifest = json.loads(_read(folder, MANIFEST))
        if manifest["format"] != FORMAT:
            raise bad(MANIFEST, "is of another form", "export it again with this Ringwright")
        for told in manifest["workshop"]:
            content = _read(folder, f"{HISTORY}/workshop/{told['number']:04d}.toml")
            workshops.write(db, Version(**_version(told), content=content))
        for told in manifest["commissions"]:
            _take_in_commission(db, folder, told)
    except OSError as fault:
        what = f"cannot be read ({fault.strerror or fault}): {fault.filename}"
        raise bad(str(folder), what, "name a folder that was exported whole") from fault
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise bad(str(folder / MANIFEST), f"is not whole ({fault})", "export the shelf again") from fault


def _commission(db: sa.Connection, folder: Path, head: CommissionVersion) -> dict[str, Any]:
    """Write one commission; what the manifest says of it."""
    if head.state is not State.ABSENT:
        _write(folder, f"{head.key}{SUFFIX}", head.content)
        for name, attached in ((head.model_file, head.model), (head.log_file, head.log)):
            place = Folder(folder, "").inside(name) if name is not None else None
            if attached is not None and place is not None and not place.exists():
                _write(folder, place.relative_to(folder).as_posix(), blobs.get(db, attached.digest))
    versions = []
    for one in reversed(commissions.versions(db, head.key)):
        _write(folder, f"{HISTORY}/commissions/{head.key}/{one.number:04d}.toml", one.content)
        told = _told(one) | {
            "order_number": one.order_number,
            "title": one.title,
            "due": one.due.isoformat() if one.due else None,
            "model_file": one.model_file,
            "model": one.model.digest if one.model else None,
            "log_file": one.log_file,
            "log": one.log.digest if one.log else None,
        }
        for attached, path in ((one.model, _model_path), (one.log, _log_path)):
            if attached is not None and not (folder / path(attached.digest)).exists():
                _write(folder, path(attached.digest), blobs.get(db, attached.digest))
        versions.append(told)
    kept = [_dossier(db, folder, head, one) for one in dossiers.all_of(db, head.key)]
    return {"key": head.key, "state": head.state.value, "head": head.number, "versions": versions, "dossiers": kept}


def _dossier(
    db: sa.Connection, folder: Path, head: CommissionVersion, told: tuple[DossierKept, dict[str, str]]
) -> dict[str, Any]:
    kept, digests = told
    place = _dossier_path(head.key, kept.version, kept.workshop)
    newest = dossiers.newest(db, head.key, head.number)
    now = (
        newest is not None
        and (newest.workshop, newest.made_at) == (kept.workshop, kept.made_at)
        and kept.version == head.number
    )
    beside = dossier_folder(Path(f"{head.key}{SUFFIX}")).name
    for name, digest in digests.items():
        data = blobs.get(db, digest)
        _write(folder, f"{place}/{name}", data)
        if now and head.state is not State.ABSENT:
            _write(folder, f"{beside}/{name}", data)
    if kept.picture is not None:
        _write(folder, f"{place}.png", blobs.get(db, kept.picture))
    return {
        "version": kept.version,
        "workshop": kept.workshop,
        "made_at": kept.made_at.isoformat(timespec="microseconds"),
        "verdict": kept.verdict.value,
        "halts": kept.halts,
        "heeds": kept.heeds,
        "worst": kept.worst,
        "next_step": kept.next_step,
        "picture": kept.picture is not None,
        "files": sorted(digests),
    }


def _take_in_commission(db: sa.Connection, folder: Path, told: Mapping[str, Any]) -> None:
    key = checked_key(told["key"])
    ident = commissions.begin(db, key, State(told["state"]), int(told["head"]))
    for one in told["versions"]:
        version = _version(one)
        # A shelf that was exported before logs were kept says nothing of them.
        model, log = one["model"], one.get("log")
        for what, digest, path in (("model", model, _model_path), ("log", log, _log_path)):
            if digest is not None:
                _inside(folder, one[f"{what}_file"])
                if blobs.put(db, _read(folder, path(digest)), version["saved_at"]) != digest:
                    raise bad(path(digest), f"is not the {what} that it was", "copy the folder again")
        text = Text(
            content=_read(folder, f"{HISTORY}/commissions/{key}/{version['number']:04d}.toml"),
            order_number=one["order_number"],
            title=one["title"],
            due=dt.date.fromisoformat(one["due"]) if one["due"] else None,
            mistakes=version["mistakes"],
            model_digest=model,
            model_name=one["model_file"],
            log_digest=log,
            log_name=one.get("log_file"),
        )
        commissions.write(
            db,
            ident,
            version["number"],
            text,
            based_on=version["based_on"],
            by=version["by"],
            at=version["saved_at"],
        )
    for one in told["dossiers"]:
        place = _dossier_path(key, int(one["version"]), one["workshop"])
        dossiers.put(
            db,
            key,
            one["version"],
            one["workshop"],
            {name: _read(folder, f"{place}/{name}") for name in one["files"]},
            made_at=dt.datetime.fromisoformat(one["made_at"]),
            verdict=Level(one["verdict"]),
            halts=one["halts"],
            heeds=one["heeds"],
            worst=one["worst"],
            next_step=one["next_step"],
            picture=_read(folder, f"{place}.png") if one["picture"] else None,
        )


def _told(one: Version) -> dict[str, Any]:
    return {
        "number": one.number,
        "based_on": one.based_on,
        "saved_at": one.saved_at.isoformat(timespec="microseconds"),
        "by": one.by,
        "mistakes": list(one.mistakes),
    }


def _version(told: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "number": int(told["number"]),
        "based_on": told["based_on"],
        "saved_at": dt.datetime.fromisoformat(told["saved_at"]),
        "by": told["by"],
        "mistakes": tuple(told["mistakes"]),
    }


def _model_path(digest: str) -> str:
    return f"{HISTORY}/models/{_hash(digest)}"


def _log_path(digest: str) -> str:
    return f"{HISTORY}/logs/{_hash(digest)}"


def _hash(digest: str) -> str:
    if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
        raise ValueError(f"{digest[:20]} is no hash")
    return digest


def _dossier_path(key: str, version: int, workshop: int | None) -> str:
    return f"{HISTORY}/dossiers/{key}/{version:04d}-{workshop or 0:04d}"


def _inside(folder: Path, name: str) -> Path:
    """The path of a file in the folder, whatever name a manifest gives it. Raises ``ValueError`` for one outside."""
    parts = PurePosixPath(name)
    path = folder / parts
    if (
        parts.is_absolute()
        or ".." in parts.parts
        or "\\" in name
        or not path.resolve().is_relative_to(folder.resolve())
    ):
        raise ValueError(f"{name} is no name in the folder")
    return path


def _write(folder: Path, name: str, data: bytes) -> None:
    path = _inside(folder, name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def _read(folder: Path, name: str) -> bytes:
    return _inside(folder, name).read_bytes()
