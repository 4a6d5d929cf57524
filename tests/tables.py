"""Some of the shipped tables of facts, read and checked as the loader does, without waiting for all of them."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from ringwright.facts import read, shipped
from ringwright.terms.facts import Facts


@cache
def tables(*names: str) -> Facts:
    """The facts with only the tables of these names (as fields of :class:`Facts`) in them."""
    bounds = tomllib.loads((files("ringwright.facts") / "bounds.toml").read_text("utf-8"))
    texts = {f.name: f.read_text("utf-8") for f in shipped().iterdir() if f.name.endswith(".toml")}
    wanted = {name: text for name, text in texts.items() if tomllib.loads(text)["table"]["name"] in names}
    return read(wanted, bounds)
