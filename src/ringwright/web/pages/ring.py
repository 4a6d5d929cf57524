"""The ring to be turned, and the words of its tools."""

from __future__ import annotations

from ringwright.web.html import Markup, el
from ringwright.words import _


def viewer() -> Markup:
    """The ring to be turned, with its tools; ``ring.js`` brings it to life."""
    return el(
        "section",
        el("ring-view", id="ring", data_words=_viewer_words()),
        el("noscript", _("The ring in three dimensions needs scripts; all figures stand beside.")),
        class_="viewer",
        aria_label=_("The ring"),
    )


def _viewer_words() -> dict[str, str]:
    return {
        "ring": _("The ring. Arrow keys turn it, plus and minus bring it nearer, Home shows it whole."),
        "from": _("Look from"),
        "front": _("front"),
        "side": _("side"),
        "along": _("above"),
        "aslant": _("aslant"),
        "colour": _("Colour by"),
        "plain": _("nothing"),
        "show": _("Show"),
        "stones": _("Stones"),
        "section": _("Section"),
        "across": _("side to side"),
        "upright": _("up and down"),
        "lengthwise": _("front to back"),
        "at": _("Section at"),
        "other": _("other side"),
        "measure": _("Measure"),
        "measuring": _("Choose a point: click, or press Enter for the middle of the picture."),
        "second": _("Choose a second point for the distance."),
        "wall": _("wall here"),
        "distance": _("distance"),
        "none": _("No picture yet: it comes when the commission is worked through."),
        "loading": _("The ring is being fetched …"),
        "failed": _("The ring could not be shown."),
        "nogl": _("This browser cannot draw in three dimensions (no WebGL)."),
        "unknown": _("no figure"),
        "place": _("Place"),
        "least": _("least"),
        "most": _("most"),
        "inside": _("on the cut: what was reckoned inside the metal"),
        "missed": _("There is no metal at this point."),
        "gates": _("Gates"),
        "gate": _("Gate"),
        "feeder": _("Blind feeder"),
        "gatesSet": _("Set a"),
        "gatesHow": _(
            "Where the metal enters, and where a blind feeder sits at a heavy place that no gate feeds: click on the "
            "ring, or turn it and press Enter for the middle of the picture."
        ),
        "gatesSave": _("Save these gates and work through"),
        "gatesClear": _("Let Ringwright propose them"),
        "gatesLeave": _("Leave them as they are"),
        "gateOut": _("take out"),
        "gatePlace": _("{angle} round from the head, {along} along the finger"),
    }
