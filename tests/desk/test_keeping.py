"""Only what changed is worked again, and nothing wrong is ever given back."""

from __future__ import annotations

import functools
import os
import subprocess
import sys
import time
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ringwright.desk import _digest, keeping
from ringwright.desk._digest import digest
from ringwright.desk.keeping import Keeping
from ringwright.terms.body import Body, Field, Mesh, Role
from ringwright.terms.progress import Keep, anew
from ringwright.terms.quantity import Estimate
from ringwright.terms.remark import Level

CALLS: list[Any] = []


@dataclass(frozen=True)
class Charge:
    mass_g: float
    parts: dict[str, float]


@dataclass
class Loose:
    mass_g: float


def doubled(charge: Charge, times: int = 2) -> Charge:
    CALLS.append(charge)
    return replace(charge, mass_g=charge.mass_g * times)


def slow(charge: Charge, progress: Any = None) -> Mesh:
    CALLS.append(charge)
    time.sleep(keeping.WORTH_KEEPING_S * 1.2)
    return Mesh(np.eye(3) * charge.mass_g, np.array([[0, 1, 2]]))


@pytest.fixture(autouse=True)
def _no_calls() -> None:
    CALLS.clear()


CHARGE = Charge(4.2, {"Au": 75.0, "Ag": 12.5})


def test_it_is_a_keep() -> None:
    keep: Keep = Keeping()
    assert keep("metal", doubled, CHARGE) == anew("metal", doubled, CHARGE)


def test_the_same_inputs_are_worked_once() -> None:
    keep = Keeping()
    first = keep("metal", doubled, CHARGE)
    assert keep("metal", doubled, Charge(4.2, {"Au": 75.0, "Ag": 12.5})) is first
    assert len(CALLS) == 1
    assert (keep.hits, keep.worked) == (1, 1)


@pytest.mark.parametrize(
    "other",
    [Charge(np.nextafter(4.2, 5), CHARGE.parts), Charge(4.2, {"Au": 75.0, "Ag": 12.6}), Charge(4.2, {"Au": 75.0})],
)
def test_any_change_is_worked_again(other: Charge) -> None:
    keep = Keeping()
    keep("metal", doubled, CHARGE)
    assert keep("metal", doubled, other).mass_g == other.mass_g * 2
    assert len(CALLS) == 2


def test_a_partial_counts_its_inputs_but_not_the_progress() -> None:
    keep = Keeping()
    for times in (2, 3):
        keep("metal", functools.partial(doubled, times=times), CHARGE)
    assert len(CALLS) == 2
    for progress in (print, CALLS.append):
        keep("metal", functools.partial(slow, progress=progress), CHARGE)
    assert len(CALLS) == 3


def test_a_function_without_a_lasting_name_is_refused() -> None:
    with pytest.raises(TypeError, match="no lasting name"):
        Keeping()("metal", lambda charge: charge, CHARGE)


@pytest.mark.parametrize("value", [object(), {1, 2}, Loose(1.0), Path("a"), np.array([object()], dtype=object), Charge])
def test_what_cannot_be_told_apart_is_refused(value: Any) -> None:
    with pytest.raises(TypeError):
        digest(value)


MESH = Mesh(np.eye(3), np.array([[0, 1, 2]]))
VALUES: list[Any] = [
    None, 0, 1, False, True, 0.0, -0.0, 1.0, "", "1", b"1", Decimal(1), Decimal("1.0"), (), ("",), ("", ""),
    (("",), ""), ("", ("",)), {}, {"a": 1}, {"a": 1.0}, frozenset({1}), frozenset({1, 2}), Level.FINE, "fine",
    Role.METAL, Estimate(1.0, 0.0), Estimate(1.0, 0.1), np.zeros(3), np.zeros(3, np.float32), np.zeros((1, 3)),
    np.int64(1), MESH, MESH.scaled(2.0), Body("ring", Role.METAL, MESH), Body("ring", Role.METAL, MESH.scaled(2.0)),
    Field("wall", "Wall", "mm", "ring", np.ones(3)), Field("wall", "Wall", "mm", "ring", np.zeros(3)),
    "é", "ab", ("ab", "c"), ("a", "bc"),
]  # fmt: skip


def test_no_two_values_are_told_alike() -> None:
    told = [digest(value) for value in VALUES]
    assert len(set(told)) == len(told)


def test_a_hash_is_the_same_in_every_process() -> None:
    code = "from tests.desk.test_keeping import VALUES, digest; print(digest(*VALUES))"
    env = {**os.environ, "PYTHONHASHSEED": "77"}
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=env).stdout
    assert said.strip() == digest(*VALUES)


def test_slow_results_are_kept_on_disk_and_read_only(tmp_path: Path) -> None:
    first = Keeping(tmp_path / "kept")("pour", slow, CHARGE)
    assert len(CALLS) == 1
    second = Keeping(tmp_path / "kept")("pour", slow, CHARGE)
    assert len(CALLS) == 1
    assert second == first
    assert not second.vertices_mm.flags.writeable
    Keeping(tmp_path / "kept")("metal", doubled, CHARGE)
    assert not (tmp_path / "kept" / "metal").exists(), "a quick result is not worth a file"
    assert (tmp_path / "kept").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("harm", ["cut", "flipped", "empty", "foreign"])
def test_a_harmed_file_is_worked_again(tmp_path: Path, harm: str) -> None:
    first = Keeping(tmp_path)("pour", slow, CHARGE)
    (file,) = (tmp_path / "pour").iterdir()
    data = bytearray(file.read_bytes())
    data[-3] ^= 1
    file.write_bytes({"cut": data[:-9], "flipped": data, "empty": b"", "foreign": b"cos\nsystem\n(S'false'\ntR."}[harm])
    assert Keeping(tmp_path)("pour", slow, CHARGE) == first
    assert len(CALLS) == 2
    assert Keeping(tmp_path)("pour", slow, CHARGE) == first
    assert len(CALLS) == 2, "the harmed file was not replaced"


def test_other_code_is_worked_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Keeping(tmp_path)("pour", slow, CHARGE)
    monkeypatch.setattr(keeping, "code_version", lambda: "another")
    Keeping(tmp_path)("pour", slow, CHARGE)
    assert len(CALLS) == 2
    assert len(_digest.code_version()) == 40


def test_the_folder_is_kept_within_its_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep = Keeping(tmp_path)
    keep("pour", slow, CHARGE)
    (first,) = (tmp_path / "pour").iterdir()
    monkeypatch.setattr(keeping, "LARGEST_FOLDER_BYTES", int(first.stat().st_size * 1.5))
    os.utime(first, (1, 1))
    keep("pour", slow, Charge(5.0, {}))
    (left,) = (tmp_path / "pour").iterdir()
    assert left != first


def test_a_folder_that_cannot_be_used_is_done_without(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    keep = Keeping(tmp_path / "file" / "kept")
    assert keep.folder is None
    keep("pour", slow, CHARGE)
    keep("pour", slow, CHARGE)
    assert len(CALLS) == 1


def test_a_folder_in_which_others_could_write_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept").chmod(0o777)
    assert Keeping(tmp_path / "kept").folder is None
    (tmp_path / "kept").chmod(0o755)
    assert Keeping(tmp_path / "kept").folder is not None
    assert (tmp_path / "kept").stat().st_mode & 0o777 == 0o700


def test_a_fault_is_not_kept() -> None:
    keep = Keeping()
    with pytest.raises(AttributeError):
        keep("metal", doubled, Estimate(1.0, 0.0))
    with pytest.raises(AttributeError):
        keep("metal", doubled, Estimate(1.0, 0.0))
    assert len(CALLS) == 2
