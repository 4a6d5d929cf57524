"""The steps of a making as the commission's page draws them: progress, verdict, figures, remarks."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from ringwright.desk.shelf import CommissionVersion, Stage, Status
from ringwright.terms.order import STEPS
from ringwright.web import shown
from ringwright.web.frame import level_word, mistakes
from ringwright.web.html import Markup, el, level, shape
from ringwright.words import _
from ringwright.words.sentences import source, spoken, title

Data = dict[str, Any]
RANK = {"halt": 0, "heed": 1, "fine": 2}


def progress(head: CommissionVersion, job: Status | None, *, current: bool = False) -> Markup:
    """How the making goes, with the button that begins or stops it; ``current`` where nothing calls for a new one."""
    path = f"/c/{quote(head.key)}"
    if job is not None and not job.stage.over:
        marks = [_mark(one.name, one.title, job) for one in STEPS]
        return el(
            "div",
            el("p", el("strong", _stage(job)), f" {spoken(job.doing)}"),
            el("progress", value=f"{job.share:.3f}", max="1", aria_label=_("Share done")),
            el("ol", marks, class_="marks"),
            el(
                "form",
                el("input", type="hidden", name="job", value=job.job),
                el("button", _("Stop"), class_="button stop"),
                method="post",
                action=f"{path}/stop",
            ),
            class_="progress first-of-all",
            id="progress",
        )
    said = None
    if job is not None and job.stage is Stage.STOPPED:
        said = el("p", _("The making was stopped; what stood before stands still."), class_="muted")
    elif job is not None and job.stage is Stage.REFUSED:
        said = mistakes(job.mistakes, heading=_("The making was refused:"))
    elif job is not None and job.stage is Stage.FAILED:
        said = el("p", level("halt", word=_("The making failed: {why}").format(why=spoken(job.fault))))
    elif job is not None and job.note:
        said = el("p", level("heed", word=spoken(job.note)))
    word, look = (_("Work it through again"), "quiet") if current else (_("Work it through"), "button")
    again = el("form", el("button", word, class_=look), method="post", action=f"{path}/work")
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
    """The verdict of the whole, why it may no longer hold, and what is to be done first."""
    counts = {name: sum(r["level"] == name for s in data["steps"].values() for r in s["remarks"]) for name in RANK}
    old = None
    if version != head.number:
        old = _("These figures are of version {old}; the brief is at version {new}.").format(
            old=version, new=head.number
        )
    elif stale:
        old = stale[:1].upper() + stale[1:] + "."
    told = {
        "halt": _("Do not make it so: change this first"),
        "heed": _("It can be made: heed this first"),
        "fine": _("Nothing stands in the way: take the cards to the bench"),
    }[data["verdict"]]
    return el(
        "div",
        el("h2", level(data["verdict"], word=level_word(data["verdict"])), " ", el("span", told)),
        el(
            "p",
            _("{halts} to halt for, {heeds} to heed").format(halts=counts["halt"], heeds=counts["heed"]),
            class_="muted counts",
        ),
        el("p", shape("heed"), el("span", spoken(old)), class_="level level-heed") if old else None,
        _first(data),
        class_=f"summary verdict-{data['verdict']}",
    )


FIRST_REMARKS = 3
"""So many of the gravest remarks stand at the top of a commission's page."""


def _first(data: Data) -> Markup | None:
    """The gravest remarks, each with what to change and its place; the rest stands at the steps."""
    found = [(name, one) for name, part in data["steps"].items() for one in part["remarks"] if one["level"] != "fine"]
    found.sort(key=lambda pair: RANK[pair[1]["level"]])
    if not found:
        return None
    rows = [
        el(
            "li",
            shape(one["level"]),
            el(
                "div",
                el("p", el("strong", _sentence(spoken(one["change"]) or says(name, one)))),
                el("p", el("a", _title(data, name), href=f"#step-{name}"), ": ", says(name, one), class_="why"),
                _place(one),
            ),
            class_=f"level-{one['level']}",
        )
        for name, one in found[:FIRST_REMARKS]
    ]
    more = len(found) - FIRST_REMARKS
    rest = el("p", _("and {count} more at the steps below").format(count=more), class_="muted") if more > 0 else None
    return el("div", el("ol", rows), rest, class_="first")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _title(data: Data, name: str) -> str:
    title = data["steps"][name]["title"]
    return _(title)


def papers_of(names: set[str], path: str) -> Markup | None:
    """The ways to the papers that are taken along most."""
    wanted = (("bench.pdf", _("Cards for the bench")), ("quote.pdf", _("Offer for the client")))
    links = [
        el("a", word, href=f"{path}/papers?read={quote(name)}", class_="button second")
        for name, word in wanted
        if name in names
    ]
    return el("p", links, class_="doings take-along") if links else None


def step(name: str, part: Data, currency: str) -> Markup:
    """One step: its verdict, its chief figures and remarks first; all figures and tables below."""
    called, question = (_(told) for told in (part["title"], part["question"]))
    chief = [one for one in part["figures"] if one["chief"]]
    rest = [one for one in part["figures"] if not one["chief"]]
    remarks = sorted(part["remarks"], key=lambda remark: RANK[remark["level"]])
    worst = says(name, remarks[0]) if remarks and remarks[0]["level"] != "fine" else question
    tables = [shown.table(one, currency) for one in part["tables"] if one["rows"]]
    return el(
        "details",
        el(
            "summary",
            el("span", called, class_="title"),
            level(part["verdict"], word=level_word(part["verdict"])),
            el("span", worst, class_="gist"),
        ),
        el("div",
           el("p", question, class_="question") if worst != question else None,
           el("ul", [_remark(name, one) for one in remarks], class_="remarks") if remarks else None,
           shown.figures(chief, currency, others=True) if chief else None,
           _folded(_("All figures"), shown.figures(rest, currency)) if rest else None,
           _folded(_("Tables"), *tables) if tables else None,
           class_="inside"),
        id=f"step-{name}",
        class_=f"step verdict-{part['verdict']}",
    )  # fmt: skip


def says(step: str, one: Data) -> str:
    """What a remark says in the reader's language; where there is no such sentence, the title of its kind before it."""
    named = title(step, one)
    return f"{named}: {one['says']}" if named else spoken(one["says"])


def _folded(title: str, *content: Markup) -> Markup:
    return el("details", el("summary", title), content, class_="all")


def _remark(step: str, one: Data) -> Markup:
    """A remark; one that has a place is a button that turns the ring to it."""
    figure = None
    if one["figure"] is not None and one["limit"] is not None:
        figure = el(
            "p",
            _("{figure} where the limit is {limit}").format(
                figure=shown.value(one["figure"], one["unit"], 2), limit=shown.value(one["limit"], one["unit"], 2)
            ),
            f" ({source(one['limit_source'])})" if one["limit_source"] else "",
            class_="limit",
        )
    change = el("p", el("strong", _("Change:")), " ", spoken(one["change"])) if one["change"] else None
    return el(
        "li",
        level(one["level"], word=level_word(one["level"])),
        el("div", el("p", says(step, one)), figure, change, _place(one)),
        class_="remark",
        data_kind=one["kind"],
    )  # fmt: skip


def _place(one: Data) -> Markup | None:
    """Where on the ring: a button that turns the ring there, or the words alone."""
    place = spoken(one["place"])
    if one["point_mm"] is not None:
        return el(
            "button",
            shape("place"),
            el("span", _("Show the place"), class_="unseen") if one["place"] else None,
            el("span", place or _("Show the place")),
            type="button",
            class_="place",
            data_point=one["point_mm"],
            data_place=place,
        )
    return el("span", place, class_="where") if one["place"] else None
