"""The pages, asked without a browser: what they show, what they do, and what they say where they cannot."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
import struct
import threading
import time
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pytest
from starlette.testclient import TestClient

from ringwright import words
from ringwright.desk import shelf as desk
from ringwright.desk.reading import commission_in
from ringwright.desk.shelf import Shelf, Stage, State
from ringwright.papers.meshfiles import stl
from ringwright.store import dossiers
from ringwright.terms.order import STEPS
from ringwright.web import fields, html, shown
from ringwright.web.pages import form as forms
from tests.desk.texts import COMMISSION
from tests.web.conftest import KEY, work
from tests.web.tasks import AT_BOTTOM, MODEL_AT, torus

PAGE = f"/c/{KEY}"
OPEN_RING = Path(__file__).parents[1] / "data" / "open-ring.stl"


def plain(text: str) -> str:
    """A page's text without its markup."""
    return re.sub(r"[ \n]+", " ", re.sub(r"<[^>]+>", " ", text))


def until_over(shelf: Shelf, key: str = KEY) -> desk.Status:
    job = next(one for one in desk.makings(shelf) if one.key == key)
    return desk.wait_for_making(shelf, job.job, 300)


def drop(client: TestClient, data: bytes, name: str) -> dict[str, str]:
    answer = client.post("/models", content=data, headers={"x-file-name": quote(name)})
    return {"status": str(answer.status_code), **answer.json()}


def test_the_bench_shows_each_commission_worst_remark_first(client: TestClient, shelf: Shelf) -> None:
    before = plain(client.get("/").text)
    assert "Oval sapphire ring" in before and "30 April 2027" in before and "work it through" in before
    work(shelf)
    after = client.get("/").text
    assert "The shank &lt;i&gt;is&lt;/i&gt; thin here." in after
    assert "The side is soft" not in after
    picture = re.search(r'src="(/pictures/\w+)"', after)
    assert picture is not None
    assert client.get(picture[1]).content.startswith(b"\x89PNG")
    assert client.get("/pictures/0123").status_code == 404


def test_a_commission_shows_its_steps_figures_and_remarks(client: TestClient, shelf: Shelf) -> None:
    assert "Not worked through yet" in client.get(PAGE).text
    work(shelf)
    page = client.get(PAGE).text
    told = plain(page)
    assert "1 to halt for, 1 to heed" in told
    assert "3.90\u00a0±\u00a00.10\u00a0g 2.51\u00a0dwt" in told
    assert "0.60\u00a0mm where the limit is 0.80\u00a0mm (common practice, no source)" in told
    assert "Change: make it thicker" in told
    assert 'data-point="[0.0,-10.2,0.0]"' in page
    assert told.index("thin here") < told.index("The side is soft")
    assert "812.50\u00a0GBP" in told
    field, _deep = client.get(f"{PAGE}/scene").json()["fields"]
    assert (field["title"], field["unit"], field["low_is_bad"]) == ("Height above the hole", "mm", False)
    assert client.get(field["url"]).content.startswith(b"glTF")
    assert [one["level"] for one in desk.dossier_data(shelf, KEY)["steps"]["wear"]["remarks"]] == ["halt", "heed"]


def test_what_is_missing_is_said(client: TestClient) -> None:
    for path in ("/c/nothing", "/c/nothing/papers", "/pictures/a", "/models/a/picture", f"{PAGE}/file/a.pdf", "/x"):
        answer = client.get(path)
        assert answer.status_code == 404 and "Traceback" not in answer.text, path
    assert client.get(f"{PAGE}/scene?version=x").status_code == 404


def test_a_change_of_the_alloy_works_only_what_depends_on_it(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    form = {
        "based_on": "1",
        "f.metal.alloy": "9k-yellow",
        "f.commission.title": "Oval sapphire ring",
        "opened": "14:02",
    }
    answer = client.post(f"{PAGE}/brief", data=form)
    assert (answer.status_code, answer.headers["location"]) == (303, PAGE)
    done = until_over(shelf)
    assert (done.stage, done.version, done.worked, done.kept) == (Stage.DONE, 2, ("metal", "price"), ("finger",))
    saved = desk.commission(shelf, KEY)
    assert saved.by == "the page opened 14:02"
    assert saved.text == COMMISSION.replace('"18k-3n"', '"9k-yellow"', 1)
    assert "412.50" in client.get(PAGE).text
    beside = plain(client.get(f"{PAGE}/versions").text)
    assert "metal.alloy 18k-3n 9k-yellow" in beside and "812.50 412.50" in beside


def test_mistakes_in_a_form_stand_at_their_fields(client: TestClient, shelf: Shelf) -> None:
    answer = client.post(f"{PAGE}/brief", data={"based_on": "1", "f.metal.alloy": "18k-3n", "f.stone.0.length": "7 kg"})
    assert answer.status_code == 422
    assert re.search(r'<input[^>]*value="7 kg"[^>]*aria-invalid="true"', answer.text)
    assert desk.commission(shelf, KEY).number == 1


def test_mistakes_in_a_text_are_told_by_line(client: TestClient, shelf: Shelf) -> None:
    text = COMMISSION.replace('system = "uk"', 'system = "uk"\nwidth = "5 mm"')
    line = text.split("\n").index('width = "5 mm"') + 1
    (found,) = client.post("/check", data={"text": text, "kind": "commission", "name": "a.commission.toml"}).json()
    assert (found["line"], found["field"]) == (line, "finger.width")
    assert client.post("/check", data={"text": COMMISSION, "kind": "commission"}).json() == []
    answer = client.post(f"{PAGE}/brief", data={"based_on": "1", "text": text})
    assert answer.status_code == 422 and f'data-line="{line}"' in answer.text
    assert 'width = "5 mm"' in answer.text
    assert desk.commission(shelf, KEY).number == 1


def test_two_pages_never_overwrite_each_other(client: TestClient, shelf: Shelf) -> None:
    theirs = COMMISSION.replace('"M"', '"N"')
    desk.save_commission(shelf, KEY, theirs, based_on=1, by="the bench tablet")
    mine = {"based_on": "1", "f.commission.title": "Mine <b>"}
    answer = client.post(f"{PAGE}/brief", data=mine)
    assert answer.status_code == 409
    told = plain(answer.text)
    assert "was changed by the bench tablet" in told and "finger.size from 'M' to 'N'" in told
    assert "Mine &lt;b&gt;" in answer.text, "what was written is still there"
    assert desk.commission(shelf, KEY).text == theirs
    upon = re.search(r'name="based_on" value="(\d+)"', answer.text)
    assert upon is not None and upon[1] == "2"
    assert client.post(f"{PAGE}/brief", data={"based_on": "2", "text": theirs + "\n"}).status_code == 303


def test_a_stone_is_added_and_taken_out(client: TestClient, shelf: Shelf) -> None:
    assert 'name="f.stone.1.cut"' in client.get(f"{PAGE}/brief?stones=2").text
    client.post(f"{PAGE}/brief", data={"based_on": "1", "remove": "0"})
    assert "[[stone]]" not in desk.commission(shelf, KEY).text


def test_a_making_is_stopped_and_what_stood_stands(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    before = client.get(f"{PAGE}/file/dossier.json").content
    slow = COMMISSION.replace("Oval sapphire ring", "slow")
    client.post(f"{PAGE}/brief", data={"based_on": "1", "text": slow})
    until = time.monotonic() + 30
    while (now := client.get(f"{PAGE}/making").json()["job"])["step"] != "wear" and time.monotonic() < until:
        time.sleep(0.02)
    assert now["stage"] == "working" and "Stop" in now["html"]
    client.post(f"{PAGE}/stop", data={"job": now["name"]})
    assert until_over(shelf).stage is Stage.STOPPED
    page = plain(client.get(PAGE).text)
    assert "The making was stopped" in page and "of version 1; the brief is at version 2" in page
    assert client.get(f"{PAGE}/file/dossier.json").content == before


def test_a_dropped_model_shows_its_first_figures(client: TestClient, shelf: Shelf) -> None:
    ring = stl(torus())
    told = drop(client, ring, "my ring ö.stl")
    assert told["status"] == "200"
    page = client.get(told["go"])
    text = plain(page.text)
    assert (
        "Closed as drawn yes" in text
        and re.search(r"Finger hole 15\.\d+\u00a0mm", text)
        and "Mass in each alloy" in text
    )
    picture = re.search(r'src="(/models/\w+/picture)"', page.text)
    assert picture is not None and client.get(picture[1]).content.startswith(b"\x89PNG")
    digest = told["go"].partition("=")[2]
    form = {
        "model": digest, "f.commission.number": "2027-020", "f.commission.title": "Dropped",
        "f.commission.market": "uk",
        "f.commission.currency": "GBP", "f.finger.size": "M", "f.finger.system": "uk", "f.metal.alloy": "18k-3n",
        "f.model.units": "mm", "f.starter.shape": "band", "f.stone.0.name": "centre",
    }  # fmt: skip
    answer = client.post("/new", data=form)
    assert answer.status_code == 303
    made = desk.commission(shelf, answer.headers["location"].rpartition("/")[2])
    assert made.model is not None and desk.model_bytes(shelf, made.model.digest) == ring
    assert "starter" not in made.text and "[[stone]]" not in made.text


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("ring.stl", b"Dear goldsmith, this is a letter and no model at all.\n" * 20),
        ("ring.3mf", b"PK\x03\x04 this is no zip"),
        ("ring.txt", b"hello"),
        ("ring.stl", b""),
    ],
)
def test_a_wrong_file_gets_one_sentence(client: TestClient, name: str, data: bytes) -> None:
    told = drop(client, data, name)
    assert told["status"] == "422"
    assert told["where"].startswith("ring") and told["what"] and told["right"]
    assert "\n" not in told["what"] and "Traceback" not in str(told)


def test_a_zip_bomb_is_refused_and_the_app_lives(client: TestClient) -> None:
    import io
    import zipfile

    packed = io.BytesIO()
    with (
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as bomb,
        bomb.open("3D/3dmodel.model", "w", force_zip64=True) as part,
    ):
        for _ in range(275):
            part.write(b" " * (4 << 20))
    assert len(packed.getvalue()) < 12 << 20
    begun = time.monotonic()
    told = drop(client, packed.getvalue(), "bomb.3mf")
    assert told["status"] == "422" and told["where"] == "bomb.3mf"
    assert time.monotonic() - begun < 40
    assert client.get("/").status_code == 200


def test_a_new_commission_says_every_mistake(client: TestClient, shelf: Shelf) -> None:
    answer = client.post("/new", data={"f.commission.title": "Mine", "f.starter.shape": "band"})
    assert answer.status_code == 422
    assert 'value="Mine"' in answer.text and "commission.number" in answer.text
    assert len(desk.cards(shelf)) == 1
    assert "drop the file again" in client.get("/new?model=abc").text.lower()


def test_the_workshop_is_saved_with_care(client: TestClient, shelf: Shelf) -> None:
    head = desk.workshop(shelf)
    wrong = client.post("/workshop", data={"based_on": "1", "text": head.text.replace("GBP", "pounds")})
    assert wrong.status_code == 422 and "pounds" in wrong.text
    fine = head.text + "\n# mine\n"
    assert client.post("/workshop", data={"based_on": "1", "text": fine}).status_code == 303
    late = client.post("/workshop", data={"based_on": "1", "text": head.text + "\n# late\n"})
    assert late.status_code == 409 and "# late" in late.text and "# mine" in late.text
    assert desk.workshop(shelf).text == fine


def test_facts_are_found_with_their_sources(client: TestClient) -> None:
    tables = plain(client.get("/facts").text)
    assert "Alloys" in tables and "Gem materials" in tables
    found = plain(client.get("/facts?q=palladium").text)
    assert "sources disagree" in found and "CRC Handbook" in found
    assert "Nothing is found" in client.get("/facts?q=zzzz").text


def test_facts_are_found_and_said_in_another_language(client: TestClient) -> None:
    german = {"accept-language": "de"}
    tables = plain(client.get("/facts", headers=german).text)
    assert "Edelsteinmaterialien" in tables and "Eine Aufgabe der Hände und ihre Stunden." in tables
    assert "Gem materials" not in tables
    found = plain(client.get("/facts?q=Küvette+Vakuum", headers=german).text)
    assert "ungelochte Küvette" in found and "Abstände in der Küvette" in found
    assert "Nothing is found" in client.get("/facts?q=Küvette+Vakuum").text
    english = plain(client.get("/facts?q=baguette&table=cut_risks", headers=german).text)
    assert "Freiraum hinter jeder Ecke" in english, "the English words are found too"
    alloys = plain(client.get("/facts?table=alloys&q=handbook", headers=german).text)
    assert "Streckgrenze, geglüht MPa" in alloys and "gilt: " in alloys
    copper = plain(client.get("/facts?table=elements&q=Kupfer", headers=german).text)
    assert "CRC Handbook" in copper and "(Handbuch)" in copper and "8,9" in copper


def test_the_inside_of_the_metal_is_given_for_the_section(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    wall, deep = client.get(f"{PAGE}/scene").json()["fields"]
    assert "volume" not in wall and deep["title"] == "Depth under the rim"
    data = client.get(deep["volume"]).content
    (length,) = struct.unpack("<I", data[:4])
    head = json.loads(data[4 : 4 + length])
    assert len(data) == 4 + length + 2 * math.prod(head["cells"])
    assert head["low"] == pytest.approx(9.8, abs=0.3) and head["high"] == pytest.approx(30.2, abs=0.3)
    for path in (f"{PAGE}/volume/pour/none", f"{PAGE}/volume/nothing/deep", f"{PAGE}/volume/wear/height"):
        assert client.get(path).status_code == 404, path


def test_gates_on_the_ring_go_into_the_brief_in_the_models_coordinates(client: TestClient, shelf: Shelf) -> None:
    early = client.post(f"{PAGE}/gates", data={"based_on": "1", "points": "[[0, -10.2, 0]]"})
    assert early.status_code == 422 and "work the commission through first" in early.text.lower()
    work(shelf)
    scene = client.get(f"{PAGE}/scene").json()
    assert scene["head"] == 1
    assert scene["gates"] == [{"point_mm": pytest.approx(list(AT_BOTTOM)), "why": "heaviest place"}]
    chosen = {"based_on": "1", "opened": "14:02", "points": "[[0, -10.2, 0.5], [10.2, 0, 0]]"}
    assert client.post(f"{PAGE}/gates", data=chosen).status_code == 303
    saved = desk.commission(shelf, KEY)
    x, y, z = MODEL_AT
    wanted = [[x, y - 10.2, z + 0.5], [x + 10.2, y, z]]
    assert np.allclose(commission_in(saved.text, "a").tree.gates_mm, wanted, atol=1e-6)
    assert saved.text.startswith(COMMISSION.rstrip()) and saved.by == "the page opened 14:02"
    late = client.post(f"{PAGE}/gates", data=chosen | {"points": "[[1, 2, 3]]"})
    assert late.status_code == 409 and "13.25" not in saved.text
    until_over(shelf)
    assert client.post(f"{PAGE}/gates", data={"based_on": "2", "points": "[]"}).status_code == 303
    assert desk.commission(shelf, KEY).text.rstrip() == COMMISSION.rstrip()


def test_a_blind_feeder_goes_into_the_brief_beside_the_gates_or_alone(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    assert client.get(f"{PAGE}/scene").json()["feeders"] == [
        {"point_mm": pytest.approx([10.2, 0.0, 0.0]), "why": "the maker's own"}
    ]
    alone = {"based_on": "1", "points": "[]", "feeders": "[[0, 10.2, 0]]"}
    assert client.post(f"{PAGE}/gates", data=alone).status_code == 303
    x, y, z = MODEL_AT
    tree = commission_in(desk.commission(shelf, KEY).text, "a").tree
    assert tree.gates_mm == () and np.allclose(tree.feeders_mm, [[x, y + 10.2, z]], atol=1e-6)
    until_over(shelf)
    both = {"based_on": "2", "points": "[[0, -10.2, 0]]", "feeders": "[[0, 10.2, 0]]"}
    assert client.post(f"{PAGE}/gates", data=both).status_code == 303
    tree = commission_in(desk.commission(shelf, KEY).text, "a").tree
    assert len(tree.gates_mm) == len(tree.feeders_mm) == 1
    until_over(shelf)
    wrong = client.post(f"{PAGE}/gates", data={"based_on": "3", "points": "[]", "feeders": "[[0, 900, 0]]"})
    assert wrong.status_code == 422 and "place lies far off the ring" in wrong.text
    assert client.post(f"{PAGE}/gates", data={"based_on": "3", "points": "[]", "feeders": "[]"}).status_code == 303
    assert desk.commission(shelf, KEY).text.rstrip() == COMMISSION.rstrip()


WRONG_PLACES = ("", "{}", "7", "[[1, 2]]", "[1, 2, 3]", '[["a", 2, 3]]', "[[1, 2, 1e999]]", "[[0, 900, 0]]", "[" * 5000)


@pytest.mark.parametrize("points", [*WRONG_PLACES, str([[0, 1, 2]] * 13)])
def test_places_that_are_none_are_refused(client: TestClient, shelf: Shelf, points: str) -> None:
    work(shelf)
    answer = client.post(f"{PAGE}/gates", data={"based_on": "1", "points": points})
    assert answer.status_code == 422 and "Traceback" not in answer.text
    assert desk.commission(shelf, KEY).number == 1


def test_a_dossier_of_another_version_is_told_and_the_page_stays_whole(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    data = desk.dossier_data(shelf, KEY)
    older = json.loads(json.dumps(data))
    for figure in older["steps"]["wear"]["figures"]:
        del figure["chief"]
    for number, broken in enumerate((older, {**data, "format": "ringwright dossier 0"}, {**data, "steps": []}, {})):
        keep_dossier(shelf, broken)
        page = client.get(PAGE)
        assert page.status_code == 200
        told = plain(page.text)
        assert "worked by another version of Ringwright" in told and "Work it through" in told, number
        assert client.get(f"{PAGE}/scene").json()["fields"] == []
        assert client.get(f"{PAGE}/versions?one=1&other=1").status_code == 200
        assert client.get(f"{PAGE}/papers").status_code == 200 and client.get("/").status_code == 200
    work(shelf)
    assert "another version of Ringwright" not in client.get(PAGE).text


def keep_dossier(shelf: Shelf, data: object) -> None:
    """Put other data into the place of the newest dossier's, in the folder and in the store."""
    kept = desk.dossier(shelf, KEY)
    assert kept is not None and shelf.folder is not None
    (shelf.folder / f"{KEY}.dossier" / "dossier.json").write_text(json.dumps(data), "utf-8")
    desk.take_up(shelf)
    files = {name: desk.dossier_file(shelf, KEY, name) for name, _size in kept.files}
    with shelf._store.writing() as db:
        dossiers.put(
            db, KEY, kept.version, kept.workshop, files | {"dossier.json": json.dumps(data).encode()},
            made_at=kept.made_at + dt.timedelta(seconds=1), verdict=kept.verdict, halts=kept.halts, heeds=kept.heeds,
            worst=kept.worst, next_step=kept.next_step, picture=None,
        )  # fmt: skip


def test_papers_are_read_and_saved(client: TestClient, shelf: Shelf) -> None:
    assert "There are none yet" in client.get(f"{PAGE}/papers").text
    work(shelf)
    page = client.get(f"{PAGE}/papers").text
    names = {name for name, _size in desk.dossier(shelf, KEY).files}  # type: ignore[union-attr]
    assert {"dossier.json", "ring.glb", "pattern.stl", "pattern.3mf"} <= names
    for name in names:
        assert f"/file/{quote(name)}?" in page
        assert client.get(f"{PAGE}/file/{quote(name)}").content == desk.dossier_file(shelf, KEY, name)
    saved = client.get(f"{PAGE}/file/dossier.json?download=1")
    assert saved.headers["content-disposition"] == f"attachment; filename*=UTF-8''{KEY}-dossier.json"


def test_a_commission_is_closed_and_opened(client: TestClient, shelf: Shelf) -> None:
    client.post(f"{PAGE}/state", data={"state": "closed"})
    assert desk.cards(shelf) == () and "Oval sapphire ring" in client.get("/?show=closed").text
    client.post(f"{PAGE}/state", data={"state": "open"})
    assert desk.cards(shelf)[0].state is State.OPEN


def test_a_brief_that_cannot_be_read_is_told_and_mended_as_text(client: TestClient, shelf: Shelf) -> None:
    assert shelf.folder is not None
    (shelf.folder / f"{KEY}.commission.toml").write_text("[commission\n", "utf-8")
    assert "mend the brief" in client.get("/").text
    assert "The brief cannot be read" in client.get(PAGE).text
    page = client.get(f"{PAGE}/brief")
    assert page.status_code == 200 and "[commission" in page.text


def test_many_ask_at_once(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    found: list[int] = []

    def ask() -> None:
        found.extend(client.get(path).status_code for path in ("/", PAGE, f"{PAGE}/steps", f"{PAGE}/making"))

    threads = [threading.Thread(target=ask) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [200] * 24


def test_what_stands_in_a_page_is_escaped() -> None:
    assert html.el("p", "<b>", html.el("i", "&"), None, ["a", 1]) == "<p>&lt;b&gt;<i>&amp;</i>a1</p>"
    assert html.el("a", "x", href='"><script>') == '<a href="&quot;&gt;&lt;script&gt;">x</a>'
    for name in ("onclick", "style"):
        with pytest.raises(ValueError, match="cannot stand in a page"):
            html.el("p", **{name: "x"})


def test_figures_are_shown_metric_first() -> None:
    assert shown.value({"value": 4.2, "plus_minus": 0.1}, "g", 2) == "4.20\u00a0±\u00a00.10\u00a0g"
    assert shown.beside(1.55517384, "g") == "1.00\u00a0dwt"
    assert shown.beside(25.4, "mm") == "1.000\u00a0in"
    assert shown.value(None, "mm", 2) == "–"
    assert shown.value("12.50", "money", 2, "GBP") == "12.50\u00a0GBP"
    assert shown.value(True, "", 0) == "yes"


@pytest.mark.parametrize("code", [code for code in words.languages() if code != words.ENGLISH])
def test_another_language_says_every_text_with_the_same_gaps(code: str) -> None:
    said = words.catalogue(code)
    wanted = texts()
    assert sorted(wanted - said.keys()) == []
    assert sorted(said.keys() - wanted) == [], "these are no longer in the pages"
    for text, other in said.items():
        assert sorted(re.findall(r"\{\w+\}", text)) == sorted(re.findall(r"\{\w+\}", other)), text


def test_a_page_speaks_the_language_that_is_asked_for(client: TestClient, shelf: Shelf) -> None:
    work(shelf)
    german = client.get(PAGE, headers={"accept-language": "de-CH,de;q=0.9,en;q=0.5"})
    assert '<html lang="de">' in german.text and "3,90\u00a0±\u00a00,10\u00a0g" in plain(german.text)
    assert "30. April 2027" in german.text and "Was genau wurde gezeichnet?" in german.text
    client.cookies.set("language", "en")
    assert '<html lang="en">' in client.get(PAGE, headers={"accept-language": "de"}).text
    client.cookies.set("language", "../x")
    assert '<html lang="en">' in client.get(PAGE).text


def texts() -> set[str]:
    """Every text of the pages, those of a brief's fields among them."""
    import io

    from babel.messages.extract import extract

    found = set()
    for file in (Path(html.__file__).parent).rglob("*.py"):
        content = io.BytesIO(file.read_bytes())
        for _line, text, _comments, _context in extract("python", content, keywords={"_": None, "marked": None}):
            found.add(str(text))
    for one in STEPS:
        found |= {one.title, one.question}
    for part in fields.fields("", 1).values():
        found |= {text for one in part for text in (forms.label(one), one.help) if text}
    return found


@pytest.mark.parametrize(
    ("name", "english", "german"),
    [
        ("tasks.group", "casting", "Guss"),
        ("tasks.title", "Draw the ring", "Den Ring zeichnen"),
        ("cautions", "hot-wax", "Heißes Wachs"),
        ("stones.material", "sapphire", "Saphir"),
        ("stones.torch", "never", "nie"),
        (
            "marks.must",
            "fineness mark 750, struck by an assay office",
            "Feingehaltsstempel 750, von einem Prüfamt geschlagen",
        ),
        ("layout.runs.text", "marks of the assay office", "Stempel des Prüfamts"),
        ("layout.runs.text", "gold", "gold"),
        ("flask", "medium", "medium"),
        ("stones.name", "claw 2", "claw 2"),
        ("alloy", "18k-3n", "18k-3n"),
        ("alloy.source", "common practice, no source", "allgemeine Praxis, keine Quelle"),
    ],
)
def test_what_a_step_tells_is_said_but_own_words_are_kept(name: str, english: str, german: str) -> None:
    with words.speaking("de"):
        assert shown.words(name, english) == german
