"""A content hash of the values that go into a step: the same values give the same text, in every process."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import hashlib
import struct
from collections.abc import Callable
from decimal import Decimal
from enum import Enum
from functools import cache
from pathlib import Path
from typing import Any

from ringwright.terms.body import Mesh

LIBRARIES = ("numpy", "scipy", "numba", "trimesh", "manifold3d", "libigl", "scikit-image", "scikit-fem", "cascadio")
"""Libraries whose version may change a result."""

_WORKING = ("terms", "science", "steps", "making", "facts")
"""The parts of the package whose text decides what a step gives; the facts themselves are inputs of the steps."""


def digest(*values: Any) -> str:
    """The hash of frozen values: dataclasses, meshes, arrays, tuples, dicts, texts and numbers, floats exactly.

    Raises ``TypeError`` for anything else, so that nothing is ever kept under a hash that leaves a part out.
    """
    told = hashlib.blake2b(digest_size=20)
    for value in values:
        _feed(told.update, value)
    return told.hexdigest()


def function_name(function: Callable[..., Any]) -> tuple[str, tuple[Any, ...]]:
    """What a function is called, and the inputs that a ``functools.partial`` already holds.

    A keyword ``progress`` is no input. Raises ``TypeError`` for a function that has no lasting name.
    """
    if isinstance(function, functools.partial):
        name, held = function_name(function.func)
        named = tuple(sorted((key, value) for key, value in function.keywords.items() if key != "progress"))
        return name, (*held, *function.args, named)
    name = f"{function.__module__}.{function.__qualname__}"
    if "<" in name:
        raise TypeError(f"{name} has no lasting name; only a verb at the top of a module can be kept")
    return name, ()


@cache
def code_version() -> str:
    """The hash of the source text that a result depends on, and of the versions of the libraries below it."""
    import platform
    from importlib.metadata import PackageNotFoundError, version

    package = Path(__file__).parent.parent
    told = hashlib.blake2b(digest_size=20)
    told.update(platform.python_version().encode() + platform.machine().encode())
    for name in LIBRARIES:
        try:
            told.update(f"{name} {version(name)}\n".encode())
        except PackageNotFoundError:
            told.update(f"{name} absent\n".encode())
    for part in _WORKING:
        root = package / part
        for file in [root] if root.is_file() else sorted(root.rglob("*.py")):
            told.update(file.relative_to(package).as_posix().encode() + b"\0" + file.read_bytes())
    return told.hexdigest()


def _feed(tell: Callable[[bytes], None], value: Any) -> None:
    """Tell the hash a value with its kind and its length, so that no two values are told alike."""
    if isinstance(value, Enum):
        tell(f"{type(value).__qualname__}.{value.name};".encode())
    elif value is None or isinstance(value, (bool, int)):
        tell(f"{type(value).__name__} {value};".encode())
    elif isinstance(value, float):
        tell(b"float " + struct.pack("<d", value))
    elif isinstance(value, (str, bytes)):
        _bytes(tell, type(value).__name__, value.encode() if isinstance(value, str) else value)
    elif isinstance(value, (Decimal, dt.date, dt.time, dt.timedelta)):
        _bytes(tell, type(value).__name__, repr(value).encode())
    else:
        _feed_whole(tell, value)


def _feed_whole(tell: Callable[[bytes], None], value: Any) -> None:
    """Tell a value that is made of others."""
    if isinstance(value, Mesh):
        tell(f"mesh {value.digest};".encode())
    elif isinstance(value, (tuple, list)):
        tell(f"{len(value)} in order;".encode())
        for part in value:
            _feed(tell, part)
    elif isinstance(value, dict):
        tell(f"{len(value)} by name;".encode())
        for key, part in value.items():
            _feed(tell, key)
            _feed(tell, part)
    elif isinstance(value, frozenset):
        tell(f"{len(value)} in a set {sorted(digest(part) for part in value)};".encode())
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        _fields(tell, value)
    else:
        _array(tell, value)


def _bytes(tell: Callable[[bytes], None], kind: str, data: bytes) -> None:
    tell(f"{kind} {len(data)};".encode())
    tell(data)


def _fields(tell: Callable[[bytes], None], value: Any) -> None:
    kind = type(value)
    if not kind.__dataclass_params__.frozen:
        raise TypeError(f"{kind.__qualname__} is not frozen and cannot be an input that is kept")
    tell(f"{kind.__module__}.{kind.__qualname__};".encode())
    for one in dataclasses.fields(value):
        _bytes(tell, "field", one.name.encode())
        _feed(tell, getattr(value, one.name))


def _array(tell: Callable[[bytes], None], value: Any) -> None:
    import numpy as np

    if isinstance(value, np.generic):
        value = np.asarray(value)
    if not isinstance(value, np.ndarray) or value.dtype.hasobject:
        raise TypeError(f"a {type(value).__qualname__} cannot be an input that is kept")
    _bytes(tell, f"array {value.dtype.str} {value.shape}", np.ascontiguousarray(value).tobytes())
