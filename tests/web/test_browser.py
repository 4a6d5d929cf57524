"""The pages in a real browser: the ring drawn, turned, cut and measured, files dropped, nothing asked from outside."""

from __future__ import annotations

import base64
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ringwright.desk import shelf as desk
from ringwright.desk.reading import commission_in
from ringwright.desk.shelf import Shelf
from ringwright.papers.meshfiles import stl
from ringwright.web.passphrase import Door
from tests.desk.texts import COMMISSION
from tests.web.conftest import KEY, Served, work
from tests.web.tasks import AT_BOTTOM, HALF_MM, MODEL_AT, RADIUS_MM, RIM_MM, torus

pytestmark = pytest.mark.browser

READY = "() => document.querySelector('ring-view')?.dataset.ready"
PAGE = f"/c/{KEY}"


def ring(page: Any, script: str) -> Any:
    """What a script says of the ring's view."""
    return page.evaluate(f"() => {{ const view = document.querySelector('ring-view'); return {script}; }}")


def open_ring(page: Any, address: str) -> None:
    page.goto(address + PAGE)
    page.wait_for_function(READY)


def rest(page: Any) -> None:
    """Wait until nothing is drawn any more."""
    page.evaluate(
        """async () => {
            const view = document.querySelector('ring-view');
            const frame = () => new Promise((done) => requestAnimationFrame(done));
            let [still, before] = [0, -1];
            while (still < 3) {
                await frame();
                still = view.drawn === before && !view.asked ? still + 1 : 0;
                before = view.drawn;
            }
        }"""
    )


def front(page: Any) -> None:
    """Look from the front, and wait until the ring rests."""
    page.get_by_role("button", name="front").click()
    rest(page)


def pixels(page: Any) -> bytes:
    """What the ring's picture looks like now."""
    rest(page)
    found: bytes = page.locator("ring-view canvas").first.screenshot()
    return found


def colour_at(page: Any, x: float, y: float, z: float) -> list[int]:
    """The colour in which a place is drawn, in bytes; places are those of the picture, in mm."""
    rest(page)
    found: list[int] = page.evaluate(
        """(place) => {
            const view = document.querySelector('ring-view');
            const at = new view.camera.position.constructor(...place).project(view.camera);
            view.renderer.render(view.world, view.camera);
            const gl = view.renderer.getContext();
            const pixel = new Uint8Array(4);
            const x = Math.round((at.x + 1) / 2 * gl.drawingBufferWidth);
            const y = Math.round((at.y + 1) / 2 * gl.drawingBufferHeight);
            gl.readPixels(x, y, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
            return [...pixel].slice(0, 3);
        }""",
        [x, y, z],
    )
    return found


def screen_at(page: Any, x: float, y: float, z: float) -> tuple[float, float]:
    """Where on the screen a place of the picture is."""
    found: list[float] = ring(
        page,
        f"(() => {{ const p = new view.camera.position.constructor({x}, {y}, {z}).project(view.camera);"
        " const b = view.canvas.getBoundingClientRect();"
        " return [b.left + (p.x + 1) / 2 * b.width, b.top + (1 - p.y) / 2 * b.height]; })()",
    )
    return found[0], found[1]


def near(one: list[int], other: list[int], within: int = 10) -> bool:
    return all(abs(a - b) <= within for a, b in zip(one, other, strict=True))


def test_from_the_first_page_to_the_ring_and_its_papers(page: Any, place: tuple[Shelf, str]) -> None:
    _shelf, address = place
    page.goto(address)
    page.get_by_role("link", name="Oval sapphire ring").click()
    page.wait_for_function(READY)
    assert ring(page, "view.solids.children.length") == 2
    page.get_by_role("link", name="Papers").click()
    with page.expect_download() as coming:
        page.get_by_role("link", name="save Pattern for the printer, in mm").click()
    assert Path(coming.value.path()).read_bytes() == desk.dossier_file(place[0], KEY, "pattern.stl")


def test_a_remark_turns_the_ring_to_its_place(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    assert page.locator(".first").get_by_role("button", name="bottom of the shank").count() == 1, "the worst is first"
    page.locator("#step-wear > summary").click()
    page.locator("#step-wear").get_by_role("button", name="bottom of the shank").click()
    rest(page)
    assert ring(page, "JSON.parse(view.dataset.place)") == list(AT_BOTTOM)
    assert ring(page, "view.marks.children[0].position.toArray()") == list(AT_BOTTOM)
    eye = ring(page, "view.camera.position.clone().sub(view.controls.target).normalize().toArray()")
    assert eye[1] < -0.5, "the ring is seen from below"
    x, y, _z = ring(page, "view.marks.children[0].position.clone().project(view.camera).toArray()")
    assert abs(x) < 0.8 and abs(y) < 0.8
    assert ring(page, "view.readout.textContent") == "Place: bottom of the shank"


def test_a_section_is_cut_and_filled(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    front(page)
    whole = pixels(page)
    page.get_by_label("Section", exact=True).first.check()
    cut = pixels(page)
    assert cut != whole
    assert near(colour_at(page, 0, -RADIUS_MM, 0), [0x7A, 0x3B, 0x2E])
    slider = page.get_by_label("Section at")
    slider.focus()
    page.keyboard.press("ArrowRight")
    assert ring(page, "view.plane.constant") > 0
    assert pixels(page) != cut


def test_the_cut_is_coloured_by_the_figure(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    front(page)
    page.get_by_label("Section", exact=True).first.check()
    page.get_by_label("Colour by").select_option(label="Wear: Height above the hole")
    page.wait_for_function("() => document.querySelector('ring-view').dataset.ready.includes('wear-height')")
    for y in (-RADIUS_MM - HALF_MM + 0.12, RADIUS_MM + HALF_MM - 0.12, -RADIUS_MM + HALF_MM - 0.12):
        wanted = ring(page, f"view.scale.bytes(view.shade({y}))")
        assert near(colour_at(page, 0, y, 0), wanted), "along the outline, from the surface"
    assert near(colour_at(page, 0, -RADIUS_MM, 0), [0x7A, 0x3B, 0x2E]), "within it is not known"

    page.get_by_label("Colour by").select_option(label="Pour: Depth under the rim")
    page.wait_for_function("() => document.querySelector('ring-view').dataset.ready.includes('pour-deep')")
    assert page.get_by_label("Show", exact=False).first.input_value() == "tree"
    page.get_by_role("button", name="side", exact=True).click()
    page.locator(".cut-tools select").select_option("lengthwise")
    page.get_by_role("button", name="front").click()
    for x, y in ((0, -RADIUS_MM), (RADIUS_MM, 0), (0, RADIUS_MM)):
        wanted = ring(page, f"view.scale.bytes(view.shade({RIM_MM} - {y}))")
        assert near(colour_at(page, x, y - RIM_MM, 0), wanted, 14), "inside, from the volume"
    deep, high = (ring(page, f"view.volume.at({{x: 0, y: {y - RIM_MM}, z: 0}})") for y in (-RADIUS_MM, RADIUS_MM))
    assert abs(deep - RIM_MM - RADIUS_MM) < 0.25 and abs(high - RIM_MM + RADIUS_MM) < 0.25
    page.get_by_role("button", name="Measure").click()
    page.mouse.click(*screen_at(page, 0, -RADIUS_MM - RIM_MM, 0))
    told = re.search(r"Depth under the rim: ([\d.]+) mm", ring(page, "view.readout.textContent"))
    assert told is not None and abs(float(told[1]) - RIM_MM - RADIUS_MM) < 0.3


def test_gates_are_chosen_on_the_ring(page: Any, place: tuple[Shelf, str]) -> None:
    shelf, address = place
    key = other_commission(shelf, "gates")
    work(shelf, key)
    page.goto(f"{address}/c/{key}")
    page.wait_for_function(READY)
    front(page)
    page.get_by_role("button", name="Gates").click()
    panel = page.get_by_role("region", name="Gates")
    assert panel.locator("li").count() == 2 and "180° round from the head" in panel.locator("li").first.inner_text()
    page.mouse.click(*screen_at(page, RADIUS_MM, 0, HALF_MM))
    assert panel.locator("li").count() == 3 and "90° round from the head" in panel.locator("li").nth(1).inner_text()
    page.mouse.click(*screen_at(page, 0, 0, 0))
    assert ring(page, "view.readout.textContent") == "There is no metal at this point."
    panel.get_by_role("button", name="take out: Gate 1").click()
    assert panel.locator("li").count() == 2
    page.get_by_role("button", name="side", exact=True).click()
    rest(page)
    page.locator("ring-view canvas").first.focus()
    page.keyboard.press("Enter")
    assert panel.locator("li").count() == 3, "the middle of the picture, by keyboard"
    panel.get_by_role("button", name="take out: Gate 2").click()
    assert panel.get_by_role("button", name="take out: Blind feeder A").count() == 1, "as the tree has it"
    panel.get_by_role("button", name="take out: Blind feeder A").click()
    panel.get_by_label("Blind feeder").check()
    front(page)
    page.mouse.click(*screen_at(page, 0, RADIUS_MM, HALF_MM))
    assert panel.locator("li").last.inner_text().startswith("Blind feeder A: 0° round from the head")
    panel.get_by_role("button", name="Save these gates").click()
    page.get_by_text("version 1; the brief is at version 2").or_(page.locator(".summary")).first.wait_for()
    tree = commission_in(desk.commission(shelf, key).text, "a").tree
    (gate,), (feeder,) = tree.gates_mm, tree.feeders_mm
    assert np.abs(np.array(feeder) - np.add(MODEL_AT, (0, RADIUS_MM, HALF_MM))).max() < 0.1
    wanted = np.add(MODEL_AT, (RADIUS_MM, 0, HALF_MM))
    assert np.abs(np.array(gate) - wanted).max() < 0.1


def test_a_figure_colours_the_ring_with_a_legend(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    plain = pixels(page)
    page.get_by_label("Colour by").select_option(label="Wear: Height above the hole")
    page.wait_for_function("() => document.querySelector('ring-view').dataset.ready.includes('wear-height')")
    assert pixels(page) != plain
    legend = page.locator(".legend").inner_text()
    assert "Height above the hole" in legend and "10.2 mm" in legend
    shares = ring(
        page,
        "(() => { const g = view.solids.children[0].geometry; const v = g.attributes._figure.array;"
        " const c = g.attributes.color.array; let top = 0, low = 0;"
        " v.forEach((x, i) => { if (x > v[top]) top = i; if (x < v[low]) low = i; });"
        " return [[...c.slice(3 * top, 3 * top + 3)], [...c.slice(3 * low, 3 * low + 3)]]; })()",
    )
    bad, good = shares
    assert bad[0] > 0.8 and bad[1] > 0.7 and good[0] < 0.01, "high is the bad end of this figure"


def test_walls_and_distances_are_measured(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    front(page)
    page.get_by_label("Stones").uncheck()
    page.get_by_role("button", name="Measure").click()

    def click(x: float, y: float) -> str:
        page.mouse.click(*screen_at(page, x, y, HALF_MM))
        told: str = ring(page, "view.readout.textContent")
        return told

    one = click(0, -9)
    wall = re.search(r"wall here ([\d.]+) mm", one)
    assert wall is not None and abs(float(wall[1]) - 2 * HALF_MM) < 0.1
    other = click(0, 9)
    distance = re.search(r"distance ([\d.]+) mm", other)
    assert distance is not None and abs(float(distance[1]) - 18.0) < 0.3


def test_the_ring_is_turned_by_keys_and_drawn_only_then(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    rest(page)
    page.wait_for_timeout(300)
    before, drawn = ring(page, "view.camera.position.toArray()"), ring(page, "view.drawn")
    page.wait_for_timeout(400)
    assert ring(page, "view.drawn") == drawn, "nothing is drawn while nothing changes"
    page.locator("ring-view canvas").first.focus()
    page.keyboard.press("ArrowLeft")
    rest(page)
    assert ring(page, "view.camera.position.toArray()") != before
    assert ring(page, "view.drawn") > drawn


def test_a_model_is_dropped_anywhere(page: Any, place: tuple[Shelf, str]) -> None:
    shelf, address = place
    desk.look_at_model(shelf, stl(torus(40, 12)), "first.stl")  # whatever must be compiled once is compiled
    page.goto(address)
    model = base64.b64encode(stl(torus(200, 50))).decode()
    page.evaluate(
        """(model) => {
            const bytes = Uint8Array.from(atob(model), (one) => one.charCodeAt(0));
            const data = new DataTransfer();
            data.items.add(new File([bytes], 'my ring.stl'));
            sessionStorage.begun = Date.now();
            for (const kind of ['dragover', 'drop']) {
                const about = { dataTransfer: data, bubbles: true, cancelable: true };
                document.body.dispatchEvent(new DragEvent(kind, about));
            }
        }""",
        model,
    )
    page.wait_for_url("**/new?model=*")
    page.get_by_text("Closed as drawn").wait_for()
    seconds = page.evaluate("() => (Date.now() - sessionStorage.begun) / 1000")
    assert page.locator("dd", has_text="20\u202f000").count() == 1
    assert seconds < 10, "two seconds on a quiet machine: see the benchmark"


def test_a_text_named_as_a_model_gets_one_sentence(page: Any, place: tuple[Shelf, str]) -> None:
    page.goto(place[1])
    letter = {"name": "letter.stl", "mimeType": "model/stl", "buffer": b"Dear goldsmith, this is a letter.\n" * 30}
    page.get_by_label("Drop a model anywhere").set_input_files(letter)
    told = page.get_by_role("alert").filter(has_text=";")
    told.wait_for()
    assert told.inner_text().startswith("letter.stl: ") and "\n" not in told.inner_text()


def other_commission(shelf: Shelf, key: str) -> str:
    """Another commission on the same shelf, for a test that changes it."""
    desk.create_commission(shelf, COMMISSION.replace("2027-014", f"2027-{key}"), by="here", key=key)
    return key


def test_a_making_tells_how_far_it_is_and_is_stopped(page: Any, place: tuple[Shelf, str]) -> None:
    shelf, address = place
    key = other_commission(shelf, "stopped")
    text = desk.commission(shelf, key).text
    desk.save_commission(shelf, key, text.replace("Oval sapphire ring", "slow ring"), based_on=1, by="here")
    page.goto(f"{address}/c/{key}")
    page.get_by_role("button", name="Work it through").click()
    page.locator("li.now", has_text="Wear").wait_for()
    page.get_by_role("button", name="Stop").click()
    page.get_by_text("The making was stopped").wait_for()
    desk.save_commission(shelf, key, text, based_on=2, by="the bench tablet")
    page.get_by_text("Version 3 was saved by the bench tablet").wait_for()
    page.get_by_role("button", name="Work it through").click()
    page.wait_for_function(READY)
    page.locator(".summary", has_text="1 to halt for, 1 to heed").wait_for()


def test_two_tabs_on_the_same_brief(page: Any, place: tuple[Shelf, str]) -> None:
    shelf, address = place
    key = other_commission(shelf, "tabs")
    other = page.context.new_page()
    for one in (page, other):
        one.goto(f"{address}/c/{key}/brief")
    other.get_by_label("Size", exact=True).fill("P")
    other.get_by_role("button", name="Save and work through").click()
    other.wait_for_url(f"**/c/{key}")
    page.get_by_label("Title", exact=True).fill("Mine")
    page.get_by_role("button", name="Save and work through").click()
    page.get_by_role("heading", name="Saved elsewhere meanwhile").wait_for()
    assert "finger.size from 'M' to 'P'" in page.get_by_role("alert").inner_text()
    assert 'title = "Mine"' in page.get_by_label("What you wrote").input_value()
    assert 'size = "P"' in desk.commission(shelf, key).text
    page.get_by_role("button", name="Save mine upon version 2").click()
    page.wait_for_url(f"**/c/{key}")
    assert desk.commission(shelf, key).number == 3


def test_mistakes_are_told_beside_their_lines_while_writing(page: Any, place: tuple[Shelf, str]) -> None:
    page.goto(f"{place[1]}{PAGE}/brief")
    page.locator("summary", has_text="As a text").click()
    text = page.get_by_label("The brief as a text")
    text.fill(text.input_value().replace('alloy = "18k-3n"', 'aloy = "18k-3n"'))
    page.locator(".told-lines li").first.wait_for()
    assert "metal" in page.locator(".told-lines").inner_text()
    assert page.locator(".lines .wrong").count() >= 1


def test_the_passphrase_lets_in(page: Any, place: tuple[Shelf, str]) -> None:
    served = Served(place[0], door=Door("four plain words here", pause_s=0.1))
    try:
        page.goto(served.address + PAGE)
        page.get_by_label("Passphrase of this workshop").fill("a wrong guess")
        page.get_by_role("button", name="Come in").click()
        page.get_by_text("That is not the passphrase").wait_for()
        page.wait_for_timeout(250)
        page.get_by_label("Passphrase of this workshop").fill("four plain words here")
        page.get_by_role("button", name="Come in").click()
        page.wait_for_function(READY)
        page.get_by_role("button", name="Leave").click()
        page.get_by_label("Passphrase of this workshop").wait_for()
    finally:
        served.close()


PAGES = (
    "/",
    PAGE,
    f"{PAGE}/brief",
    f"{PAGE}/versions",
    f"{PAGE}/papers",
    "/new",
    "/workshop",
    "/facts",
    "/facts?q=palladium+density",
)


def test_every_page_is_accessible(browser: Any, place: tuple[Shelf, str]) -> None:
    """In the light colours by every rule, in the dark ones by those of colour, for nothing else differs."""
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(color_scheme="light", viewport={"width": 1280, "height": 800}, bypass_csp=True)
    context.set_default_timeout(90_000)
    page = context.new_page()
    found = []
    every = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}
    colours = {"runOnly": ["color-contrast", "link-in-text-block"], "resultTypes": ["violations"]}
    for path in PAGES:
        page.goto(place[1] + path)
        if path == PAGE:
            page.wait_for_function(READY)
            page.get_by_label("Colour by").select_option(index=1)
            page.get_by_label("Section", exact=True).first.check()
            page.get_by_role("button", name="Gates").click()
        page.evaluate("() => document.querySelectorAll('details').forEach((one) => (one.open = true))")
        for scheme, rules in (("light", every), ("dark", colours)):
            page.evaluate("(scheme) => (document.documentElement.dataset.theme = scheme)", scheme)
            # The browser's own reader of PDF inside a frame is not ours.
            told = Axe().run(page, context={"exclude": [["iframe"]]}, options=rules).response
            found += [
                (path, scheme, one["id"], [node["html"][:120] for node in one["nodes"]][:3])
                for one in told["violations"]
            ]
    context.close()
    assert not found, found


def test_a_place_is_measured_by_keyboard_alone(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    page.get_by_role("button", name="side", exact=True).focus()
    page.keyboard.press("Enter")
    rest(page)
    page.get_by_role("button", name="Measure").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("() => document.activeElement.tagName") == "CANVAS"
    page.keyboard.press("Enter")
    wall = re.search(r"wall here ([\d.]+) mm", ring(page, "view.readout.textContent"))
    assert wall is not None and abs(float(wall[1]) - 2 * HALF_MM) < 0.3
    page.keyboard.press("ArrowUp")
    rest(page)
    page.keyboard.press("Enter")
    assert "distance" in ring(page, "view.readout.textContent")
    page.keyboard.press("Escape")
    assert ring(page, "view.readout.textContent") == ""


def test_all_is_reached_by_keyboard_alone(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    reached = set()
    for _ in range(45):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                "() => { const e = document.activeElement;"
                " return e.getAttribute('aria-label') || e.innerText || e.tagName; }"
            ).split("\n")[0]
        )
    told = " ".join(reached)
    for name in (
        "Bench",
        "Change the brief",
        "front",
        "Measure",
        "The ring. Arrow keys",
        "Gates",
        "Work it through",
        "Wear",
    ):
        assert name in told, (name, reached)


def test_narrow_pages_do_not_scroll_sideways(browser: Any, place: tuple[Shelf, str]) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 800})
    page = context.new_page()
    wide = []
    for path in PAGES:
        page.goto(place[1] + path)
        if page.evaluate("() => document.documentElement.scrollWidth > innerWidth + 1"):
            wide.append(path)
    context.close()
    assert not wide
