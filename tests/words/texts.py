"""Every English text that the code can say, found in the code: what a catalogue must hold."""

from __future__ import annotations

import ast
import itertools
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import ringwright

SRC = Path(str(ringwright.__file__)).parent
GAP = "\0"

NO_WORDS = {
    "steps/mark/_drawing.py": None,
    "steps/mark/_law.py": {"\0Read in: \0"},
    "steps/pattern/chain.py": {"print shrink"},
    "desk/_digest.py": None,
    "desk/_units.py": {"80 kPa", "400 rpm", "750 permille", "45 deg", "300 MPa", "80 GPa"},
    "desk/_readable.py": None,
    "desk/_moving.py": {"ringwright shelf 1", "\0 is no hash", "\0 is no name in the folder"},
    "desk/_folder.py": {"ringwright dossier"},
    "desk/_fields.py": {'{ Name = "\0" }', "\0: two fields would be written '\0'; give one a key of its own"},
    "desk/_shelf_folder.py": {"ringwright dossier"},
    "desk/demo/__init__.py": None,
    "desk/reading.py": {"\\(at line (\\d+), column (\\d+)\\)"},
    "terms/remark.py": None,
    "papers/schema.py": None,
    "papers/voxelfiles.py": None,
    "papers/meshfiles.py": None,
    "papers/letters.py": {"HIRAGANA LETTER ", "KATAKANA LETTER ", "HANGUL SYLLABLE ", "VARIATION SELECTOR"},
    "papers/dossier.py": {"ringwright dossier 1", "Dossier of a making"},
    "papers/generic.py": {"a \0 is no figure"},
    "papers/plain.py": None,
    "papers/blocks.py": {"a row of a table has not as many cells as the table has columns"},
    "papers/__init__.py": {"\0, pattern"},
    "store/engine.py": {"not a database", "lock timeout"},
    "store/migrations": None,
    "store/tables.py": None,
}
"""Texts that nobody reads on a page or a paper: formats, patterns, faults of our own code; all of a file, or some."""

_STATEMENT = re.compile(r"(PRAGMA|SET|SELECT|BEGIN) .*|[a-z_]+ = .*")
_MARKUP = re.compile(r'[<>]|="|^[a-z-]+/')


@cache
def keys() -> frozenset[str]:
    """Names by which the code looks rows of the facts up; they are not said."""
    found: set[str] = set()

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for name, part in value.items():
                found.add(name)
                if isinstance(part, str) and name in ("key", "rule", "what", "for", "subject", "place"):
                    found.add(part)
                walk(part)
        elif isinstance(value, list):
            for part in value:
                walk(part)

    for file in (SRC / "facts" / "tables").rglob("*.toml"):
        walk(tomllib.loads(file.read_text("utf-8")))
    return frozenset(found)


def of(*folders: str) -> dict[str, str]:
    """Every text of some words in these layers, with gaps for what is put in, and where it stands."""
    found: dict[str, str] = {}
    for file in sorted(file for folder in folders for file in (SRC / folder).rglob("*.py")):
        name = str(file.relative_to(SRC))
        left = next((texts for part, texts in NO_WORDS.items() if name.startswith(part)), set())
        if left is None:
            continue
        for line, text in _texts(ast.parse(file.read_text("utf-8"))):
            if _wanted(text) and text not in left:
                found.setdefault(_bare(text), f"{name}:{line}")
    return found


def sample(text: str) -> str:
    """The text with something in its gaps."""
    numbers = itertools.count(1)
    return re.sub(GAP, lambda _: f"Qx{next(numbers)}", text)


def shown(text: str) -> str:
    """The text as a catalogue has it."""
    numbers = itertools.count(1)
    return re.sub(GAP, lambda _: f"{{{next(numbers)}}}", text)


def _wanted(text: str) -> bool:
    bare = text.replace(GAP, "")
    if " " not in text.strip() or not re.search(r"[A-Za-z]{3}", bare) or text.strip() in keys():
        return False
    return not _STATEMENT.fullmatch(text) and not _MARKUP.search(text)


def _bare(text: str) -> str:
    """A part of a sentence without what joins it to the others."""
    text = text.strip().strip(",;:").strip()
    return text[1:-1] if text.startswith("(") and text.endswith(")") and text.count("(") == 1 else text


def _texts(tree: ast.AST) -> Iterator[tuple[int, str]]:
    said = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    said |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # what stands below a constant
    said |= {
        id(part) for node in ast.walk(tree) if (kind := getattr(node, "annotation", None)) for part in ast.walk(kind)
    }
    said |= {id(node.returns) for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.returns}
    yield from _within(tree, said)


def _within(node: ast.AST, leave: set[int]) -> Iterator[tuple[int, str]]:
    if id(node) in leave and isinstance(node, (ast.Constant, ast.JoinedStr)):
        return
    text = isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))
    if text or (isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add)):
        joined = {re.sub(f"{GAP}+", GAP, one) for one in _ways(node)} - {GAP}
        for one in sorted(joined):
            yield node.lineno, one  # type: ignore[attr-defined]  # texts and sums have a line
        if joined:
            for part in ast.walk(node):
                if isinstance(part, ast.FormattedValue) and not isinstance(part.value, (ast.IfExp, ast.JoinedStr)):
                    yield from _within(part.value, leave)
            return
    for child in ast.iter_child_nodes(node):
        yield from _within(child, leave)


def _ways(node: ast.AST) -> list[str]:
    """What an expression may read, with a gap for each part that is put in; both ways of an if."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.FormattedValue):
        plain = node.format_spec is None and isinstance(node.value, (ast.IfExp, ast.Constant, ast.JoinedStr))
        return _ways(node.value) if plain else [GAP]
    if isinstance(node, ast.JoinedStr):
        return ["".join(parts) for parts in itertools.product(*map(_ways, node.values))]
    if isinstance(node, ast.IfExp):
        return _ways(node.body) + _ways(node.orelse)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return [a + b for a in _ways(node.left) for b in _ways(node.right)]
    return [GAP]
