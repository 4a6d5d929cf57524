"""Takes the pictures of the tour: ``python docs/tour/take.py``. Works the demo through and photographs its pages.

Needs Chromium and the libraries of the tests; the pictures come beside this file.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
VIEW = "document.querySelector('ring-view')"
READY = f"() => {VIEW}?.dataset.ready"
SOFTWARE = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
MS = 900_000


def main() -> None:
    """Take all pictures."""
    import datetime as dt

    from playwright.sync_api import sync_playwright

    from ringwright.desk.demo import write_demo

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "shop"
        write_demo(folder, dt.date.today())
        command = [str(Path(sys.executable).with_name("ringwright")), "serve", str(folder), "--port", "0"]
        environment = os.environ | {"RINGWRIGHT_CACHE": str(Path(name) / "cache")}
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        try:
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=SOFTWARE)
                take(browser, address, folder)
                browser.close()
        finally:
            server.terminate()
            server.wait(timeout=30)


def take(browser: Any, address: str, folder: Path) -> None:
    """The pictures, in the order of the tour."""
    page = opened(browser, "light")
    for key in ("sapphire", "wide-band"):
        page.goto(f"{address}c/{key}")
        page.get_by_role("button", name="Work it through").click()
        page.get_by_role("button", name="Stop").wait_for()
        if key == "sapphire":
            page.locator("li.now", has_text="Wear").or_(page.locator("li.now", has_text="Pour")).first.wait_for(
                timeout=MS
            )
            keep(page, "making")
        page.wait_for_function(READY, timeout=MS)
        page.locator("button.stop").wait_for(state="detached", timeout=MS)
    page.goto(address)
    page.wait_for_timeout(600)
    keep(page, "bench")
    ring(page, address)
    keep(page, "ring")
    page.locator("#step-wear > summary").click()
    page.locator("#step-wear button.place").first.click()
    keep(page, "remark")
    ring(page, address)
    page.get_by_label("Colour by").select_option(label="Setting: Wall thickness as drawn")
    page.wait_for_function(f"() => {VIEW}.dataset.ready.includes('setting-wall')")
    page.get_by_label("Section", exact=True).first.check()
    page.get_by_role("slider").fill("4")
    keep(page, "section")
    dark = opened(browser, "dark")
    inside(dark, page, address)
    papers(page, address, folder)
    dark.goto(f"{address}facts?q=palladium+density&table=")
    keep(dark, "facts-dark")
    dark.goto(f"{address}workshop")
    keep(dark, "workshop-dark")
    narrow = opened(browser, "light", 400, 860)
    ring(narrow, address)
    keep(narrow, "narrow")
    german = opened(browser, "light")
    german.set_extra_http_headers({"accept-language": "de"})
    ring(german, address)
    german.locator("#step-setting > summary").click()
    german.locator("#step-setting").scroll_into_view_if_needed()
    keep(german, "german")


def inside(dark: Any, page: Any, address: str) -> None:
    """The tree cut open, and the gates."""
    ring(dark, address)
    colours = dark.get_by_label("Colour by").locator("option").all_inner_texts()
    wanted = [one for one in colours if "Time to freeze" in one] or [one for one in colours if "Stress" in one]
    dark.get_by_label("Colour by").select_option(label=wanted[0])
    dark.wait_for_function(f"() => {VIEW}.dataset.ready.includes('pour-freeze')")
    dark.get_by_label("Section", exact=True).first.check()
    dark.wait_for_timeout(1500)
    keep(dark, "pour-dark")
    ring(page, address)
    page.get_by_role("button", name="Gates").click()
    place = page.locator("ring-view canvas").first.bounding_box()
    page.mouse.click(place["x"] + 0.603 * place["width"], place["y"] + 0.5 * place["height"])
    keep(page, "gates")


def papers(page: Any, address: str, folder: Path) -> None:
    """Brief, versions, papers, and a new commission."""
    page.goto(f"{address}c/sapphire/brief")
    keep(page, "brief")
    page.get_by_label("Size", exact=True).fill("N")
    page.get_by_role("button", name="Save and work through").click()
    page.locator("button.stop").wait_for(state="detached", timeout=MS)
    page.goto(f"{address}c/sapphire/versions")
    keep(page, "versions")
    page.goto(f"{address}c/sapphire/papers")
    page.wait_for_timeout(4000)
    keep(page, "papers")
    page.goto(address)
    page.set_input_files("#model-file", folder / "sapphire-ring.stl")
    page.wait_for_url("**/new?model=*", timeout=MS)
    keep(page, "new")


def opened(browser: Any, scheme: str, width: int = 1280, height: int = 800) -> Any:
    """A fresh page."""
    return browser.new_context(color_scheme=scheme, viewport={"width": width, "height": height}).new_page()


def ring(page: Any, address: str) -> None:
    """The first commission, with its ring drawn."""
    page.goto(f"{address}c/sapphire")
    page.wait_for_function(READY, timeout=MS)
    page.wait_for_timeout(800)


def keep(page: Any, name: str) -> None:
    """Keep the picture, with few colours, so that it is small."""
    from PIL import Image

    page.wait_for_timeout(900)
    image = Image.open(io.BytesIO(page.screenshot()))
    image.convert("RGB").quantize(200, dither=Image.Dither.NONE).save(HERE / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
