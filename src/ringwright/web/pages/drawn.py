"""The steps of a making as the commission's page draws them: progress, verdict, figures, remarks."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from ringwright.desk.shelf import CommissionVersion, Stage, Status
from ringwright.terms.order import STEPS
from ringwright.web import shown
from ringwright.web.frame import level_word, mistakes
from ringwright.web.html import Markup, el, level, shape
from ringwright.web.words import _

Data = dict[str, Any]
RANK = {"halt": 0, "heed": 1, "fine": 2}


def progress(head: CommissionVersion, job: Status | None) -> Markup:
    """How the making goes, with the button that begins or stops it."""
    path = f"/c/{quote(head.key)}"
    if job is not None and not job.stage.over:
        marks = [_mark(one.name, one.title, job) for one in STEPS]
        return el(
            "div",
            el("p", el("strong", _stage(job)), f" {job.doing}"),
            el("progress", value=f"{job.share:.3f}", max="1", aria_label=_("Share done")),
            el("ol", marks, class_="marks"),
            el(
                "form",
                el("input", type="hidden", name="job", value=job.job),
                el("button", _("Stop"), class_="button stop"),
                method="post",
                action=f"{path}/stop",
            ),
            class_="progress",
            id="progress",
        )
    said = None
    if job is not None and job.stage is Stage.STOPPED:
        said = el("p", _("The making was stopped; what stood before stands still."), class_="muted")
    elif job is not None and job.stage is Stage.REFUSED:
        said = mistakes(job.mistakes, heading=_("The making was refused:"))
    elif job is not None and job.stage is Stage.FAILED:
        said = el("p", level("halt", word=_("The making failed: {why}").format(why=job.fault)))
    elif job is not None and job.note:
        said = el("p", level("heed", word=job.note))
    again = el("form", el("button", _("Work it through"), class_="button"), method="post", action=f"{path}/work")
    return el("div", said, again if not head.mistakes else None, class_="progress", id="progress")


def _stage(job: Status) -> str:
    return {
        Stage.WAITING: _("Waiting for its turn"),
        Stage.WORKING: _("Being worked"),
        Stage.WRITING: _("Papers and solids are being written"),
    }.get(job.stage, "")


def _mark(name: str, title: str, job: Status) -> Markup:
    state, word = "to-come", _("to come")
    if name in job.worked:
        state, word = "worked", _("worked")
    elif name in job.kept:
        state, word = "kept", _("kept from before")
    if name == job.step and job.stage is Stage.WORKING:
        state, word = "now", _("now")
    return el("li", _(title), el("span", f" {word}", class_="small"), class_=state)


def summary(data: Data, version: int | None, head: CommissionVersion, stale: str) -> Markup:
    """The verdict of the whole, and why it may no longer hold."""
    counts = {name: sum(r["level"] == name for s in data["steps"].values() for r in s["remarks"]) for name in RANK}
    old = None
    if version != head.number:
        old = _("These figures are of version {old}; the brief is at version {new}.").format(
            old=version, new=head.number
        )
    elif stale:
        old = stale[:1].upper() + stale[1:] + "."
    return el(
        "div",
        level(data["verdict"], word=level_word(data["verdict"])),
        el(
            "span",
            _("{halts} to halt for, {heeds} to heed").format(halts=counts["halt"], heeds=counts["heed"]),
            class_="muted",
        ),
        el("p", shape("heed"), el("span", old), class_="level level-heed") if old else None,
        class_="summary",
    )


def step(name: str, part: Data, currency: str) -> Markup:
    """One step: its verdict, its chief figures and remarks first; all figures and tables below."""
    title, question = (_(told) for told in (part["title"], part["question"]))
    chief = [one for one in part["figures"] if one["chief"]]
    rest = [one for one in part["figures"] if not one["chief"]]
    remarks = sorted(part["remarks"], key=lambda remark: RANK[remark["level"]])
    worst = remarks[0]["says"] if remarks and remarks[0]["level"] != "fine" else question
    tables = [shown.table(one, currency) for one in part["tables"] if one["rows"]]
    return el(
        "details",
        el(
            "summary",
            el("span", title, class_="title"),
            level(part["verdict"], word=level_word(part["verdict"])),
            el("span", worst, class_="gist"),
        ),
        el("div",
           el("p", question, class_="question") if worst != question else None,
           el("ul", [_remark(one) for one in remarks], class_="remarks") if remarks else None,
           shown.figures(chief, currency, others=True) if chief else None,
           _folded(_("All figures"), shown.figures(rest, currency)) if rest else None,
           _folded(_("Tables"), *tables) if tables else None,
           class_="inside"),
        id=f"step-{name}",
        class_=f"step verdict-{part['verdict']}",
    )  # fmt: skip


def _folded(title: str, *content: Markup) -> Markup:
    return el("details", el("summary", title), content, class_="all")


def _remark(one: Data) -> Markup:
    """A remark; one that has a place is a button that turns the ring to it."""
    figure = None
    if one["figure"] is not None and one["limit"] is not None:
        figure = el(
            "p",
            _("{figure} where the limit is {limit}").format(
                figure=shown.value(one["figure"], one["unit"], 2), limit=shown.value(one["limit"], one["unit"], 2)
            ),
            f" ({one['limit_source']})" if one["limit_source"] else "",
            class_="limit",
        )
    change = el("p", el("strong", _("Change:")), " ", one["change"]) if one["change"] else None
    place = None
    if one["point_mm"] is not None:
        place = el(
            "button",
            shape("place"),
            el("span", _("Show the place"), class_="unseen") if one["place"] else None,
            el("span", one["place"] or _("Show the place")),
            type="button",
            class_="place",
            data_point=one["point_mm"],
            data_place=one["place"],
        )
    elif one["place"]:
        place = el("span", one["place"], class_="where")
    return el(
        "li",
        level(one["level"], word=level_word(one["level"])),
        el("div", el("p", one["says"]), figure, change, place),
        class_="remark",
        data_kind=one["kind"],
    )  # fmt: skip
