"""The pages in a real browser: the ring drawn, turned, cut and measured, files dropped, nothing asked from outside."""

from __future__ import annotations

import base64
import re
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import Shelf
from ringwright.papers.meshfiles import stl
from ringwright.web.passphrase import Door
from tests.desk.texts import COMMISSION
from tests.web.conftest import KEY, Served, opened, workshop_in
from tests.web.tasks import AT_BOTTOM, HALF_MM, torus

pytestmark = pytest.mark.browser

READY = "() => document.querySelector('ring-view')?.dataset.ready"
PAGE = f"/c/{KEY}"


def ring(page: Any, script: str) -> Any:
    """What a script says of the ring's view."""
    return page.evaluate(f"() => {{ const view = document.querySelector('ring-view'); return {script}; }}")


def open_ring(page: Any, address: str) -> None:
    page.goto(address + PAGE)
    page.wait_for_function(READY, timeout=30_000)


def front(page: Any) -> None:
    """Look from the front, and wait until the ring rests."""
    page.get_by_role("button", name="front").click()
    page.wait_for_function(
        "() => { const view = document.querySelector('ring-view');"
        " return Math.abs(view.camera.position.x - view.controls.target.x) < 1e-6; }"
    )
    page.wait_for_timeout(500)


def pixels(page: Any) -> bytes:
    """What the ring's picture looks like now."""
    page.wait_for_timeout(500)
    found: bytes = page.locator("ring-view canvas").first.screenshot()
    return found


def test_from_the_first_page_to_the_ring_and_its_papers(page: Any, place: tuple[Shelf, str]) -> None:
    _shelf, address = place
    page.goto(address)
    page.get_by_role("link", name="Oval sapphire ring").click()
    page.wait_for_function(READY, timeout=30_000)
    assert ring(page, "view.solids.children.length") == 2
    page.get_by_role("link", name="Papers").click()
    with page.expect_download() as coming:
        page.get_by_role("link", name="save Pattern for the printer, in mm").click()
    assert Path(coming.value.path()).read_bytes() == desk.dossier_file(place[0], KEY, "pattern.stl")


def test_a_remark_turns_the_ring_to_its_place(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    page.locator("#step-wear > summary").click()
    page.get_by_role("button", name="bottom of the shank").click()
    page.wait_for_timeout(700)
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
    colour = "view.capMaterial.color.getHexString()"
    reddish = ring(page, colour)
    found = page.evaluate(
        """(wanted) => {
            const view = document.querySelector('ring-view');
            const at = new view.camera.position.constructor(0, -9, 0).project(view.camera);
            view.renderer.render(view.world, view.camera);
            const gl = view.renderer.getContext();
            const pixel = new Uint8Array(4);
            const x = Math.round((at.x + 1) / 2 * gl.drawingBufferWidth);
            const y = Math.round((at.y + 1) / 2 * gl.drawingBufferHeight);
            gl.readPixels(x, y, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
            return [...pixel];
        }""",
        reddish,
    )
    assert [round(part / 8) for part in found[:3]] == [round(int(f, 16) / 8) for f in ("7a", "3b", "2e")]
    slider = page.get_by_label("Section at")
    slider.focus()
    page.keyboard.press("ArrowRight")
    assert ring(page, "view.plane.constant") > 0
    assert pixels(page) != cut


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
        at = ring(
            page,
            f"(() => {{ const p = new view.camera.position.constructor({x}, {y}, {HALF_MM}).project(view.camera);"
            " const b = view.canvas.getBoundingClientRect();"
            " return [b.left + (p.x + 1) / 2 * b.width, b.top + (1 - p.y) / 2 * b.height]; })()",
        )
        page.mouse.click(*at)
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
    page.wait_for_timeout(800)
    before, drawn = ring(page, "view.camera.position.toArray()"), ring(page, "view.drawn")
    page.wait_for_timeout(700)
    assert ring(page, "view.drawn") == drawn, "nothing is drawn while nothing changes"
    page.locator("ring-view canvas").first.focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_timeout(200)
    assert ring(page, "view.camera.position.toArray()") != before
    assert ring(page, "view.drawn") > drawn


def test_a_model_is_dropped_anywhere(page: Any, place: tuple[Shelf, str]) -> None:
    shelf, address = place
    desk.warm_up(shelf)
    desk.look_at_model(shelf, stl(torus(40, 12)), "first.stl")  # whatever must be compiled once is compiled
    page.goto(address)
    model = base64.b64encode(stl(torus(400, 100))).decode()
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
    assert page.locator("dd", has_text="80\u202f000").count() == 1
    assert seconds < 10, "two seconds on a quiet machine: see the benchmark"


def test_a_text_named_as_a_model_gets_one_sentence(page: Any, place: tuple[Shelf, str]) -> None:
    page.goto(place[1])
    letter = {"name": "letter.stl", "mimeType": "model/stl", "buffer": b"Dear goldsmith, this is a letter.\n" * 30}
    page.get_by_label("Drop a model anywhere").set_input_files(letter)
    told = page.get_by_role("alert").filter(has_text=";")
    told.wait_for()
    assert told.inner_text().startswith("letter.stl: ") and "\n" not in told.inner_text()


def test_a_making_tells_how_far_it_is_and_is_stopped(page: Any, tmp_path: Path) -> None:
    shelf = opened(workshop_in(tmp_path / "shop"))
    served = Served(shelf)
    try:
        slow = COMMISSION.replace("Oval sapphire ring", "slow ring")
        desk.save_commission(shelf, KEY, slow, based_on=1, by="here")
        page.goto(served.address + PAGE)
        page.get_by_role("button", name="Work it through").click()
        page.locator("li.now", has_text="Wear").wait_for(timeout=30_000)
        page.get_by_role("button", name="Stop").click()
        page.get_by_text("The making was stopped").wait_for(timeout=10_000)
        desk.save_commission(shelf, KEY, COMMISSION, based_on=2, by="the bench tablet")
        page.get_by_text("Version 3 was saved by the bench tablet").wait_for(timeout=10_000)
        page.get_by_role("button", name="Work it through").click()
        page.wait_for_function(READY, timeout=30_000)
        page.locator(".summary", has_text="1 to halt for, 1 to heed").wait_for()
    finally:
        served.close()
        shelf.close()


def test_two_tabs_on_the_same_brief(page: Any, tmp_path: Path) -> None:
    shelf = opened(workshop_in(tmp_path / "shop"))
    served = Served(shelf)
    try:
        other = page.context.new_page()
        for one in (page, other):
            one.goto(f"{served.address}{PAGE}/brief")
        other.get_by_label("Size", exact=True).fill("P")
        other.get_by_role("button", name="Save and work through").click()
        other.wait_for_url(f"**{PAGE}")
        page.get_by_label("Title", exact=True).fill("Mine")
        page.get_by_role("button", name="Save and work through").click()
        page.get_by_role("heading", name="Saved elsewhere meanwhile").wait_for()
        assert "finger.size from 'M' to 'P'" in page.get_by_role("alert").inner_text()
        assert 'title = "Mine"' in page.get_by_label("What you wrote").input_value()
        assert 'size = "P"' in desk.commission(shelf, KEY).text
        page.get_by_role("button", name="Save mine upon version 2").click()
        page.wait_for_url(f"**{PAGE}")
        assert desk.commission(shelf, KEY).number == 3
    finally:
        served.close()
        shelf.close()


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
        page.wait_for_timeout(300)
        page.get_by_label("Passphrase of this workshop").fill("four plain words here")
        page.get_by_role("button", name="Come in").click()
        page.wait_for_function(READY, timeout=30_000)
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
    "/facts?q=gold",
)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_is_accessible(browser: Any, place: tuple[Shelf, str], scheme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(color_scheme=scheme, viewport={"width": 1280, "height": 800}, bypass_csp=True)
    page = context.new_page()
    found = []
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"]}
    for path in PAGES:
        page.goto(place[1] + path)
        if path == PAGE:
            page.wait_for_function(READY, timeout=30_000)
            page.get_by_label("Colour by").select_option(index=1)
            page.get_by_label("Section", exact=True).first.check()
        page.evaluate("() => document.querySelectorAll('details').forEach((one) => (one.open = true))")
        # The browser's own reader of PDF inside a frame is not ours.
        told = Axe().run(page, context={"exclude": [["iframe"]]}, options=rules).response
        found += [(path, one["id"], [node["html"][:120] for node in one["nodes"]][:3]) for one in told["violations"]]
    context.close()
    assert not found, found


def test_all_is_reached_by_keyboard_alone(page: Any, place: tuple[Shelf, str]) -> None:
    open_ring(page, place[1])
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                "() => { const e = document.activeElement;"
                " return e.getAttribute('aria-label') || e.innerText || e.tagName; }"
            ).split("\n")[0]
        )
    told = " ".join(reached)
    for name in ("Bench", "Change the brief", "front", "Measure", "The ring. Arrow keys", "Work it through", "Wear"):
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
