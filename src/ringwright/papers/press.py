"""From a paper's data to PDF, by Typst: our own templates, the fonts that it brings, no clock, no network.

User's texts go in as data, never as markup. A letter that the fonts do not have is told and rewritten before
(:mod:`ringwright.papers.letters`), because Typst would print an empty box without a warning.
"""

from __future__ import annotations

import base64
import json
import re
import struct
from importlib.resources import files
from typing import Any

from ringwright.papers.blocks import Block, Paper, bullets, heading
from ringwright.papers.fitting import End, fit
from ringwright.papers.letters import Rewritten, printable
from ringwright.papers.tongue import said
from ringwright.terms.mistake import ComputingFault
from ringwright.words import ENGLISH, speaking

_TEMPLATES = ("paper.typ", "house.typ")
_MOST_TOLD = 12
_LONG = re.compile(r"\S{24}(?=\S{8})")
"""In a word longer than any line a break without a shape is put, so that it does not leave the page."""


def pdf(paper: Paper, language: str = ENGLISH) -> bytes:
    """The paper as a PDF in a language; the same paper gives the same bytes.

    Raises :class:`ComputingFault` with what Typst says where it fails or warns.
    """
    import typst

    with speaking(language):
        data, rewritten = _rewritten(said(paper.data()))
        if rewritten:
            data["cards"][0]["blocks"].extend(said(_letters(rewritten)))
    data["language"] = language
    folder = files("ringwright.papers") / "typ"
    sheets = {name: (folder / name).read_bytes() for name in _TEMPLATES}
    sheets = {"main": sheets.pop(_TEMPLATES[0]), **sheets, **{n: _text(p) for n, p in paper.pictures.items()}}
    try:
        if not paper.framed:
            fit(data["cards"], lambda cards: _ends(sheets, data | {"cards": cards}))
        printed, warnings = typst.compile_with_warnings(  # type: ignore[call-overload]  # its stub forgets dict
            sheets, format="pdf", ignore_system_fonts=True, sys_inputs=_inputs(data), timestamp=0
        )
    except typst.TypstError as fault:
        raise ComputingFault(f"'{paper.title}' could not be printed: {fault.message}\n{fault.diagnostic}") from fault
    if warnings:
        raise ComputingFault(f"'{paper.title}' was printed with a warning: {warnings[0].message}")
    return bytes(printed)


def _inputs(data: Block, *, trying: bool = False) -> dict[str, str]:
    return {"paper": json.dumps(data | {"trying": trying}, ensure_ascii=False, allow_nan=False)}


def _ends(sheets: dict[str, bytes], data: Block) -> list[End]:
    """Where each card ends."""
    import typst

    inputs = _inputs(data, trying=any("by" in card for card in data["cards"]))
    try:
        told = typst.query(  # type: ignore[type-var]  # its stub forgets dict
            sheets, "<end>", field="value", ignore_system_fonts=True, sys_inputs=inputs
        )
    except RuntimeError:  # what is wrong is told when it is printed
        return []
    return [End(page, down_mm) for page, down_mm in json.loads(told)]


def _text(picture: bytes) -> bytes:
    """A picture as a file that is text, which is all that Typst takes from memory: a PNG within an SVG."""
    if not picture.startswith(b"\x89PNG"):
        return picture
    width, height = struct.unpack(">II", picture[16:24])
    link = base64.b64encode(picture).decode()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<image width="{width}" height="{height}" href="data:image/png;base64,{link}"/></svg>'
    ).encode()


def _rewritten(data: Any) -> tuple[Any, dict[str, Rewritten]]:
    """The data with every text as the fonts can print it, and the letters that they lack."""
    found: dict[str, Rewritten] = {}

    def walk(value: Any) -> Any:
        if isinstance(value, str):
            text, lacking = printable(value)
            found.update((one.letter, one) for one in lacking)
            return _LONG.sub("\\g<0>\u200b", text)
        if isinstance(value, dict):
            return {key: walk(part) for key, part in value.items()}
        if isinstance(value, (list, tuple)):
            return [walk(part) for part in value]
        return value

    return walk(data), found


def _letters(found: dict[str, Rewritten]) -> list[Block]:
    """What the paper says of letters that it could not print."""
    told = [one.told for one in found.values()]
    more = len(told) - _MOST_TOLD
    items = told[:_MOST_TOLD] + ([f"and {more} more"] if more > 0 else [])
    note = "the texts of the commission are kept whole in dossier.json"
    return [heading("Letters that these papers do not have", note), bullets(items)]
