"""Only what changed is worked again: the results of steps, kept in memory and in the user's cache folder.

A result is kept under a hash of the step, the function's name, its inputs exactly, and the version of the code
and of the libraries below it. On disk each is one file, written whole or not at all. The folder belongs to the
user alone (mode 0700): what stands there is unpickled, so a folder that others can write is not used.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import is_dataclass
from pathlib import Path
from time import perf_counter
from typing import Any, TypeVar, cast

from ringwright.desk._digest import code_version, digest, function_name

T = TypeVar("T")

WORTH_KEEPING_S = 0.05
"""A result that took less time than this is not written to disk: reading it back would take as long."""

LARGEST_FOLDER_BYTES = 1_000_000_000
"""Where the folder grows beyond this, what was not used for longest is removed."""

_MAGIC = b"ringwright kept 1\n"


def cache_folder() -> Path:
    """The user's cache folder for Ringwright, or the one that RINGWRIGHT_CACHE names."""
    import platformdirs

    return Path(os.environ.get("RINGWRIGHT_CACHE") or platformdirs.user_cache_dir("ringwright", appauthor=False))


class Keeping:
    """A :class:`~ringwright.terms.progress.Keep` with a memory, and with a folder where one can be used.

    ``folder`` None keeps in memory only. ``hits`` and ``worked`` count calls. Safe to call from several threads;
    the same work asked for twice at the same time is then done twice.
    """

    def __init__(self, folder: Path | None = None, *, entries: int = 128) -> None:
        self.folder = _own_folder(folder) if folder else None
        self.hits = 0
        self.worked = 0
        self._entries = entries
        self._memory: OrderedDict[str, Any] = OrderedDict()
        self._digests: OrderedDict[int, tuple[Any, str]] = OrderedDict()
        self._lock = threading.Lock()

    def __call__(self, step: str, function: Callable[..., T], *inputs: Any) -> T:
        """The kept result for these inputs, or the result of the function."""
        key = self.key(step, function, *inputs)
        found = self._recalled(step, key)
        if found is not None:
            self.hits += 1
            return cast(T, found[0])
        start = perf_counter()
        result = function(*inputs)
        self.worked += 1
        self._remember(key, result)
        if self.folder and perf_counter() - start >= WORTH_KEEPING_S:
            self._write(step, key, result)
        return result

    def key(self, step: str, function: Callable[..., Any], *inputs: Any) -> str:
        """The hash under which the result of this call is kept."""
        name, held = function_name(function)
        return digest(code_version(), step, name, *(self._digest(value) for value in (*held, *inputs)))

    def _digest(self, value: Any) -> str:
        """The hash of one input; that of a frozen dataclass is remembered for as long as the object is."""
        if not is_dataclass(value):
            return digest(value)
        with self._lock:
            known = self._digests.get(id(value))
            if known is not None and known[0] is value:
                return known[1]
        told = digest(value)
        with self._lock:
            self._digests[id(value)] = (value, told)
            while len(self._digests) > self._entries:
                self._digests.popitem(last=False)
        return told

    def _recalled(self, step: str, key: str) -> tuple[Any] | None:
        """The kept result in a tuple of one, or None."""
        with self._lock:
            if key in self._memory:
                self._memory.move_to_end(key)
                return (self._memory[key],)
        if not self.folder:
            return None
        file = self.folder / step / key
        found = _read(file)
        if found is not None:
            with suppress(OSError):
                os.utime(file)
            self._remember(key, found[0])
        return found

    def _remember(self, key: str, result: Any) -> None:
        with self._lock:
            self._memory[key] = result
            self._memory.move_to_end(key)
            while len(self._memory) > self._entries:
                self._memory.popitem(last=False)

    def _write(self, step: str, key: str, result: Any) -> None:
        """Write a result whole or not at all; a full or vanished disk only means that it is not kept."""
        assert self.folder
        data = pickle.dumps(result, protocol=5)
        with suppress(OSError):
            (self.folder / step).mkdir(mode=0o700, exist_ok=True)
            _write_whole(self.folder / step / key, _MAGIC + hashlib.blake2b(data).digest() + data)
            _prune(self.folder)


def _own_folder(folder: Path) -> Path | None:
    """The folder, made where it is missing; None where it cannot be made or others could write in it."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if os.name == "posix":
            state = folder.stat()
            if state.st_uid != os.getuid() or state.st_mode & 0o022:
                return None
            folder.chmod(0o700)
        return folder if os.access(folder, os.R_OK | os.W_OK | os.X_OK) else None
    except OSError:
        return None


def _read(file: Path) -> tuple[Any] | None:
    """The result in a file; a file that is missing, cut short or changed is as good as none."""
    try:
        data = file.read_bytes()
    except OSError:
        return None
    head = len(_MAGIC) + hashlib.blake2b().digest_size
    body = data[head:]
    if data[:head] == _MAGIC + hashlib.blake2b(body).digest():
        with suppress(Exception):  # whatever a class that has changed does on reading, the step is then worked again
            return (pickle.loads(body),)
    with suppress(OSError):
        file.unlink()
    return None


def _write_whole(file: Path, data: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=".new-")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        Path(name).replace(file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _prune(folder: Path) -> None:
    """Remove what was not used for longest, until the folder is no larger than it may be."""
    found = []
    for file in folder.rglob("*"):
        with suppress(OSError):
            if file.is_file():
                state = file.stat()
                found.append((state.st_mtime, state.st_size, file))
    total = sum(size for _, size, _ in found)
    for _, size, file in sorted(found, key=lambda one: one[0]):
        if total <= LARGEST_FOLDER_BYTES:
            return
        with suppress(OSError):
            file.unlink()
            total -= size
