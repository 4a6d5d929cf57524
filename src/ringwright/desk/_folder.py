"""A folder that is written whole or not at all: a new one takes the place of the old one in one step.

While it is written the new folder stands beside its place under a hidden name, locked by the process that writes
it. What a killed process left there is removed by the next one that writes to the same place. Files of the old
folder that Ringwright did not write are carried over.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath

from ringwright.terms.mistake import BadInput, bad

MANIFEST = "dossier.json"
"""The file by which a folder is known as one that Ringwright wrote; it lists the others."""


@contextmanager
def new_folder(place: Path) -> Iterator[Callable[[Mapping[str, bytes]], None]]:
    """A new folder for ``place``; the function given writes all its files and puts it there, in one step.

    Without that call, and after any fault or interruption, ``place`` stays as it was. Raises
    :class:`~ringwright.terms.mistake.BadInput`, before any work is done, where the folder cannot be written or holds
    something else than a dossier.
    """
    place = place.resolve()
    _restore(place)
    _only_a_dossier(place)
    _sweep(place)
    fresh = place.parent / f".{place.name}.making-{secrets.token_hex(4)}"
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        if place.is_dir() and not os.access(place, os.W_OK | os.X_OK):
            raise PermissionError(13, "Permission denied")
        fresh.mkdir()
    except OSError as fault:
        raise _unwritable(place, fault) from fault
    lock = _locked(fresh)

    def put(files: Mapping[str, bytes]) -> None:
        try:
            for name, data in files.items():
                _write(fresh, name, data)
            _carry_over(place, fresh)
            _sync(fresh)
            _swap(fresh, place)
            _sync(place.parent)
        except OSError as fault:
            raise _unwritable(place, fault) from fault

    try:
        yield put
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _unwritable(place: Path, fault: OSError) -> BadInput:
    return bad(
        str(place),
        f"the folder cannot be written ({fault.strerror or fault})",
        "choose another with --out, or mend its permissions or the disk",
    )


def _only_a_dossier(place: Path) -> None:
    """Raise where something stands at the place that is not ours to replace."""
    if place.is_dir():
        if any(place.iterdir()) and _written(place) is None:
            raise bad(str(place), "the folder holds other things than a dossier", "choose another with --out")
    elif place.exists():
        raise bad(str(place), "there is a file of that name", "choose another folder with --out")


def _written(place: Path) -> set[str] | None:
    """The names of the files of a dossier that Ringwright wrote, or None where there is no dossier."""
    try:
        data = json.loads((place / MANIFEST).read_bytes())
        if str(data["format"]).startswith("ringwright dossier"):
            return {MANIFEST, *map(str, data["files"])}
    except (OSError, ValueError, KeyError, TypeError):
        pass
    return None


def _write(folder: Path, name: str, data: bytes) -> None:
    """Write one file and see it on the disk."""
    parts = PurePosixPath(name).parts
    if not parts or ".." in parts or name.startswith("/"):
        raise ValueError(f"{name} is no name within a folder")
    file = folder.joinpath(*parts)
    file.parent.mkdir(parents=True, exist_ok=True)
    with file.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())


def _carry_over(old: Path, new: Path) -> None:
    """Bring what is not Ringwright's from the old folder into the new one."""
    written = _written(old) if old.is_dir() else None
    if written is None:
        return
    for file in sorted(old.rglob("*")):
        name = file.relative_to(old)
        goal = new / name
        if file.is_dir() and not file.is_symlink():
            if not any(part.startswith(name.as_posix() + "/") for part in written):
                goal.mkdir(parents=True, exist_ok=True)
        elif name.as_posix() not in written and not goal.exists():
            goal.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(file, goal, follow_symlinks=False)


def _sync(folder: Path) -> None:
    """See the names in a folder on the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _swap(fresh: Path, place: Path) -> None:
    """Put the fresh folder in its place; the old one, if any, is then where the fresh one was."""
    if not place.exists():
        fresh.rename(place)
    elif not _exchanged(fresh, place):
        former = place.parent / f".{place.name}.former-{secrets.token_hex(4)}"
        place.rename(former)
        fresh.rename(place)
        former.rename(fresh)


def _exchanged(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the system has no such step."""
    import ctypes

    try:
        library = ctypes.CDLL(None, use_errno=True)
        first, second = os.fsencode(one), os.fsencode(other)
        if sys.platform == "darwin":
            return bool(library.renamex_np(first, second, 2) == 0)
        return bool(library.renameat2(-100, first, -100, second, 2) == 0)
    except (OSError, AttributeError, TypeError):
        return False


def _restore(place: Path) -> None:
    """Where a run was killed between two renames, the former folder goes back to its place."""
    if not place.parent.is_dir():
        return
    for former in sorted(place.parent.glob(f".{_quoted(place.name)}.former-*")):
        with suppress(OSError):
            if place.exists():
                shutil.rmtree(former)
            else:
                former.rename(place)


def _sweep(place: Path) -> None:
    """Remove what killed runs left beside the place; what a living run still writes is locked."""
    if not place.parent.is_dir():
        return
    for left in place.parent.glob(f".{_quoted(place.name)}.making-*"):
        lock = _locked(left)
        if lock is not None:
            shutil.rmtree(left, ignore_errors=True)
            os.close(lock)


def _quoted(name: str) -> str:
    import glob

    return glob.escape(name)


def _locked(folder: Path) -> int | None:
    """A lock on a folder that ends with the process; None where another holds it or the system has none."""
    try:
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle
