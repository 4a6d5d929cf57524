"""The rules of the house that no other tool checks."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

from ringwright.terms.order import STEPS

ROOT = Path(__file__).parents[2]
SRC = ROOT / "src" / "ringwright"
MODULES = sorted(SRC.rglob("*.py"))


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return [ROOT / line for line in listed.splitlines() if (ROOT / line).is_file()]


def test_the_step_folders_are_those_of_the_order() -> None:
    folders = {p.name for p in (SRC / "steps").iterdir() if p.is_dir() and p.name != "__pycache__"}
    assert folders == {step.name for step in STEPS}


def test_the_making_works_the_steps_in_their_order() -> None:
    text = (SRC / "making" / "__init__.py").read_text("utf-8")
    first_call = {step.name: re.search(rf"\bkeep\(\s*\"{step.name}\"", text) for step in STEPS}
    missing = [name for name, call in first_call.items() if call is None]
    assert not missing, f"the making never works {missing}"
    places = [call.start() for call in first_call.values() if call]
    assert places == sorted(places), "the making works the steps in another order than terms/order.py says"


def test_the_architecture_page_tells_every_step() -> None:
    page = (ROOT / "docs" / "architecture.md").read_text("utf-8")
    for step in STEPS:
        assert f"`{step.name}`" in page and step.question in page


@pytest.mark.parametrize("folder", ["terms", "science", "steps"])
def test_the_core_is_pure(folder: str) -> None:
    """No files, clock, processes, randomness without a seed, or global state below the desk."""
    banned = {"os", "io.open", "pathlib", "subprocess", "time", "random", "logging", "socket", "shutil", "sqlite3",
              "tempfile", "threading", "multiprocessing"}  # fmt: skip
    for module in (SRC / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            found = {n.split(".")[0] for n in names} & banned
            assert not found, f"{module.relative_to(ROOT)} imports {found}"
            assert not isinstance(node, ast.Global), f"{module.relative_to(ROOT)} keeps global state"
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in {"open", "print", "input"}, f"{module.relative_to(ROOT)}:{node.lineno}"


@pytest.mark.parametrize("folder", ["terms"])
def test_what_is_said_between_steps_is_frozen(folder: str) -> None:
    for module in (SRC / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            if not isinstance(node, ast.ClassDef):
                continue
            for decorator in node.decorator_list:
                if "dataclass" in ast.dump(decorator):
                    assert "frozen" in ast.dump(decorator), f"{module.name}: {node.name} is not frozen"


def test_modules_and_functions_stay_readable() -> None:
    for module in MODULES:
        lines = module.read_text("utf-8").count("\n")
        assert lines <= 600, f"{module.relative_to(ROOT)} has {lines} lines; split it by what it does"


def test_no_drawer_of_odds_and_ends() -> None:
    assert not [m for m in MODULES if m.stem in {"utils", "util", "helpers", "misc", "common"}]


def test_nothing_of_this_machine_or_of_a_registry_is_committed() -> None:
    host = re.compile(rb"https?://[A-Za-z0-9.-]*(pypi|pythonhosted|npmjs|registry|debian|mirror|proxy)")
    path = re.compile(rb"(?<![A-Za-z0-9_.])/(work|farm)/")
    for file in tracked():
        if file == Path(__file__):
            continue
        data = file.read_bytes()
        assert not host.search(data), f"{file.relative_to(ROOT)} names a registry's host"
        assert not path.search(data), f"{file.relative_to(ROOT)} names a path of one machine"
