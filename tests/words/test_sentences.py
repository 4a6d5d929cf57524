"""What the steps say in another language: names of figures, kinds of remarks, places and sentences with gaps."""

from __future__ import annotations

import ast
import dataclasses
import re
import subprocess
import sys
import typing
from pathlib import Path
from typing import Any

import pytest

import ringwright.steps
from ringwright import words
from ringwright.terms.making import Making
from ringwright.terms.quantity import Estimate, described
from ringwright.words import sentences
from ringwright.words.sentences import spoken, title, unsaid
from tests.words import texts

OTHERS = [code for code in words.languages() if code != words.ENGLISH]


def helps() -> set[str]:
    """What every figure of a making is called."""
    found: set[str] = set()
    seen: set[Any] = {Estimate}

    def walk(kind: Any) -> None:
        for part in typing.get_args(kind):
            walk(part)
        if isinstance(kind, type) and dataclasses.is_dataclass(kind) and kind not in seen:
            seen.add(kind)
            found.update(about.help for about in described(kind).values() if about.help)
            for hint in typing.get_type_hints(kind).values():
                walk(hint)

    walk(Making)
    return found


def kinds() -> set[str]:
    """The kinds of remarks that the steps make, as far as they stand in their code as they are."""
    found = set()
    folder = Path(str(ringwright.steps.__path__[0]))
    for file in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Remark" and len(node.args) > 2:
                kind = node.args[2]
                if isinstance(kind, ast.Constant):
                    found.add(f"{file.relative_to(folder).parts[0]}/{kind.value!s}")
    return found


@pytest.mark.parametrize("code", OTHERS)
def test_every_figure_has_its_name(code: str) -> None:
    wanted, said = helps(), sentences.catalogue(code).texts | words.catalogue(code)
    missing = sorted(wanted - said.keys())
    assert len(wanted) > 400
    assert not missing, f"without words in locale/steps/{code}.po: {missing}"


@pytest.mark.parametrize("code", OTHERS)
def test_every_kind_of_remark_has_its_title(code: str) -> None:
    wanted, said = kinds(), sentences.catalogue(code).kinds
    missing = sorted(wanted - said.keys())
    assert len(wanted) > 80
    assert not missing, f"without words in locale/steps/{code}.po: {missing}"


@pytest.mark.parametrize("code", OTHERS)
def test_no_gap_is_lost(code: str) -> None:
    for text, other in sentences.catalogue(code).texts.items():
        assert sorted(re.findall(r"\{\d+\}", text)) == sorted(re.findall(r"\{\d+\}", other)), text
        assert not re.search(r"\{\d+\}\{\d+\}", text), f"where one ends and the next begins cannot be told: {text}"


WHERE = {"steps": "steps", "terms": "desk", "desk": "desk", "making": "desk", "store": "desk", "papers": "papers"}
"""The layer in whose code a text stands, and the catalogue's folder that holds its words."""


@pytest.mark.parametrize("layer", WHERE)
@pytest.mark.parametrize("code", OTHERS)
def test_every_text_of_the_code_has_its_words(code: str, layer: str) -> None:
    wanted = texts.of(layer)
    assert len(wanted) >= {"steps": 900, "desk": 150, "papers": 300}.get(layer, 15)
    with words.speaking(code):
        missing = [f"{place} {texts.shown(text)!r}" for text, place in wanted.items() if unsaid(texts.sample(text))]
    told = "\n".join(missing)
    assert not missing, f"write these into src/ringwright/words/locale/{WHERE[layer]}/{code}.po:\n{told}"


def test_english_needs_no_other_language_to_be_loaded() -> None:
    script = (
        "import sys; from ringwright.words import speaking; from ringwright.words.sentences import spoken\n"
        "import ringwright.papers.pdf, ringwright.papers.press\n"
        "with speaking('en'): spoken('the shank is 1.90 mm thick at the bottom')\n"
        "assert not [name for name in sys.modules if name.split('.')[0] == 'babel']"
    )
    subprocess.run([sys.executable, "-c", script], check=True)


def test_a_text_without_words_would_be_found() -> None:
    with words.speaking("de"):
        assert unsaid("Qx1 is wider than nobody ever thought")
        assert unsaid("claw 3 of stone 'left one': nobody has translated what comes after")
        assert not unsaid("draw it Qx1 mm higher")


def remark(says: str, kind: str = "thin") -> dict[str, Any]:
    return {"says": says, "kind": kind}


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("Diameter of the sprue at a gate", "Durchmesser des Gusskanals am Anschnitt"),
        ("claw 3 of stone 'left one'", "Krappe 3 am Stein „left one“"),
        ("the shank is 1.90 mm thick at the bottom", "die Schiene ist unten 1,90 mm dick"),
        (
            "the head knocked on a table's edge (100 N): 1.1 times safe against bending for good",
            "der Kopf an eine Tischkante gestoßen (100 N): 1,1-fach sicher gegen bleibendes Biegen",
        ),
        (
            "1-sapphire, head, -0° from the head, -0.0 mm along the finger: 53.4 mm³ of metal are cut off from feed "
            "after 2.5 s and solid after 3.8 s; 1.048 mm³ of shrinkage are lacking, a hole of 1.26 mm if it gathers in "
            "one.",
            "1-sapphire, Kopf, -0° vom Kopf, -0,0 mm den Finger entlang: 53,4 mm³ Metall sind nach 2,5 s vom Speisen "
            "abgeschnitten und nach 3,8 s fest; 1,048 mm³ Schrumpfung fehlen, ein Loch von 1,26 mm, wenn sie "
            "sich sammelt.",
        ),
        ("mix 38 to 40 (habits.water_per_100)", "38 bis 40 anrühren (habits.water_per_100)"),
        ('write "2.2 ozt" for troy ounces, or grams', '"2.2 ozt" für Feinunzen schreiben, oder Gramm'),
        ("known here: metal, stone, tree", "hier bekannt: metal, stone, tree"),
        (
            "no metal is near stone 'head': the nearest to its girdle is 1.20 mm off",
            "bei Stein „head“ ist kein Metall in der Nähe: das nächste an seiner Rundiste ist 1,20 mm entfernt",
        ),
        ("Claw 2", "Krappe 2"),
        ("1,204 open bodies joined to closed ones", "1\u202f204 offene Körper zu geschlossenen verbunden"),
        ("something that nobody has translated", "something that nobody has translated"),
        ("", ""),
    ],
)
def test_a_sentence_is_said_with_its_own_figures(english: str, german: str) -> None:
    assert spoken(english) == english
    with words.speaking("de"):
        assert spoken(english) == german


def test_a_remark_without_a_translation_gets_the_title_of_its_kind() -> None:
    with words.speaking("de"):
        assert title("wear", remark("it will break some day", "strength-knock")) == "Festigkeit beim Anstoßen"
        assert title("bench", remark("lead is in the air", "air-lead")) == "Luft am Arbeitsplatz"
        assert title("wear", remark("nobody knows", "no-such-kind")) == ""
        assert title("setting", remark("the shank is 1.90 mm thick at the bottom", "bottom-thin")) == ""
    assert title("wear", remark("it will break some day", "strength-knock")) == ""
