"""On which line of a TOML file a field stands."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tree_sitter import Node

Place = tuple[str | int, ...]
"""Where in a file: keys and numbers of array entries, such as ``("stone", 0, "length")``."""


def lines_of(text: str) -> dict[Place, int]:
    """The line (from 1) of every table, field and entry of a TOML text, by its place.

    The text may be broken: what the grammar still understands is found.
    """
    import tree_sitter_toml
    from tree_sitter import Language, Parser

    tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode())
    found: dict[Place, int] = {}
    counts: dict[Place, int] = defaultdict(int)
    for node in tree.root_node.named_children:
        if node.type == "pair":
            _pair(node, (), found)
        elif node.type in ("table", "table_array_element"):
            head, *pairs = node.named_children
            place = _inside(_keys(head), counts)
            if node.type == "table_array_element":
                counts[place] += 1
                found.setdefault(place, _line(node))
                place = (*place, counts[place] - 1)
            found.setdefault(place, _line(node))
            for pair in pairs:
                if pair.type == "pair":
                    _pair(pair, place, found)
    return found


def line_at(lines: dict[Place, int], place: Place) -> int | None:
    """The line of a place, or of the nearest table around it that has one."""
    while place:
        if place in lines:
            return lines[place]
        place = place[:-1]
    return None


def _line(node: Node) -> int:
    return node.start_point[0] + 1


def _keys(node: Node) -> Place:
    """The parts of a bare, quoted or dotted key."""
    if node.type == "dotted_key":
        return tuple(part for child in node.named_children for part in _keys(child))
    text = (node.text or b"").decode()
    return (text[1:-1] if node.type == "quoted_key" else text,)


def _inside(keys: Place, counts: dict[Place, int]) -> Place:
    """The full place of a table head: within an array of tables it belongs to the entry before it."""
    place: Place = ()
    for key in keys[:-1]:
        place = (*place, key)
        if counts.get(place):
            place = (*place, counts[place] - 1)
    return (*place, keys[-1])


def _pair(node: Node, base: Place, found: dict[Place, int]) -> None:
    """A field, its parts where its key is dotted, and the entries of its value."""
    key, *values = node.named_children
    place = base
    for part in _keys(key):
        place = (*place, part)
        found.setdefault(place, _line(node))
    if values:
        _value(values[0], place, found)


def _value(node: Node, place: Place, found: dict[Place, int]) -> None:
    """The entries of an inline table or an array."""
    if node.type == "inline_table":
        for pair in node.named_children:
            if pair.type == "pair":
                _pair(pair, place, found)
    elif node.type == "array":
        entries = [child for child in node.named_children if child.type != "comment"]
        for number, child in enumerate(entries):
            found.setdefault((*place, number), _line(child))
            _value(child, (*place, number), found)
