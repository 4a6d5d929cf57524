"""What a making yielded as files: to be read here and to be taken along."""

from __future__ import annotations

from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from ringwright.desk import shelf as desk
from ringwright.desk.shelf import Shelf
from ringwright.terms.mistake import bad
from ringwright.web.frame import heading, page
from ringwright.web.html import Markup, el
from ringwright.web.pages.commission import file_path, version_of
from ringwright.words import _, marked, numbers

KINDS = {
    "pdf": "application/pdf",
    "json": "application/json",
    "glb": "model/gltf-binary",
    "stl": "model/stl",
    "3mf": "model/3mf",
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "png": "image/png",
    "ics": "text/calendar",
    "csv": "text/csv",
    "vti": "application/xml",
}
TITLES = {
    "bench.pdf": marked("Cards for the bench"),
    "certificate.pdf": marked("Certificate of the ring"),
    "quote.pdf": marked("Offer for the client"),
    "pattern.stl": marked("Pattern for the printer, in mm"),
    "pattern.3mf": marked("Pattern for the printer, with its unit"),
    "ring.glb": marked("The ring, to be looked at"),
    "ring.png": marked("The ring as a small picture"),
    "tree.glb": marked("The tree in its flask"),
    "dossier.json": marked("Everything, for other programs"),
}
_FILE_POLICY = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'self'"
_READABLE = ("pdf",)


def show(request: Request) -> HTMLResponse:
    """The papers of a commission."""
    shelf: Shelf = request.app.state.shelf
    key = request.path_params["key"]
    head = desk.commission(shelf, key)
    dossier = desk.dossier(shelf, key)
    top = heading(
        _("Papers of {title}").format(title=head.title or key),
        el("a", _("Back to the commission"), href=f"/c/{quote(key)}"),
    )
    if dossier is None:
        empty = el("p", _("There are none yet: work the commission through."), class_="empty")
        return page(request, _("Papers"), top, empty)
    chosen = request.query_params.get("read", "")
    files = [(name, size) for name, size in dossier.files if not name.startswith("fields/")]
    fields = [(name, size) for name, size in dossier.files if name.startswith("fields/")]
    readable = [name for name, _size in files if _suffix(name) in _READABLE]
    reading = chosen if chosen in readable else readable[0] if readable else None

    def row(name: str, size: int) -> Markup:
        title = _(TITLES[name]) if name in TITLES else name
        read = (
            el("a", _("read"), href=f"?read={quote(name)}", aria_current="true" if name == reading else None,
               aria_label=_("read {title}").format(title=title))
            if name in readable
            else None
        )  # fmt: skip
        return el(
            "tr",
            el("th", title, el("span", f" {name}", class_="small") if title != name else None, scope="row"),
            el("td", _size(size), class_="number"),
            el("td", read),
            el("td", el("a", _("save"), href=file_path(key, name, dossier, download=True), download=True,
                        aria_label=_("save {title}").format(title=title))),
        )  # fmt: skip

    old = (
        el(
            "p",
            _("These are of version {old}; the brief is at version {new}.").format(
                old=dossier.version, new=head.number
            ),
        )
        if dossier.version != head.number
        else None
    )
    more = (
        el("details", el("summary", _("The ring in colours, one file for each figure")),
           el("table", el("tbody", [row(*one) for one in fields])))
        if fields
        else None
    )  # fmt: skip
    listed = el(
        "div",
        el("p", _("Made {when}").format(when=numbers.moment(dossier.made_at)), class_="muted"),
        old,
        el(
            "table",
            el("caption", _("Files"), class_="unseen"),
            el("tbody", [row(*one) for one in files]),
            class_="files",
        ),
        more,
    )
    frame = (
        el("iframe", src=file_path(key, reading, dossier), title=_(TITLES.get(reading, reading)), class_="paper")
        if reading is not None
        else None
    )
    return page(request, _("Papers"), top, el("div", listed, frame, class_="papers"), wide=True)


def file(request: Request) -> Response:
    """One file of a dossier, by the name that the dossier gives it; no other name is ever looked for."""
    shelf: Shelf = request.app.state.shelf
    key, name = request.path_params["key"], request.path_params["name"]
    dossier = desk.dossier(shelf, key, version_of(request))
    if dossier is None or name not in {known for known, _size in dossier.files}:
        raise bad("dossier", f"the dossier of '{key[:60]}' has no such file", "open its papers")
    content = desk.dossier_file(shelf, key, name, dossier.version)
    last = name.rpartition("/")[2]
    headers = {
        "content-security-policy": _FILE_POLICY,
        "cache-control": "private, max-age=86400" if "made" in request.query_params else "no-cache",
        "content-disposition": f"{'attachment' if 'download' in request.query_params else 'inline'}; "
        f"filename*=UTF-8''{quote(f'{key}-{last}')}",
    }
    return Response(content, media_type=KINDS.get(_suffix(name), "application/octet-stream"), headers=headers)


def picture(request: Request) -> Response:
    """A small picture, by the hash of its content."""
    content = desk.picture(request.app.state.shelf, request.path_params["digest"])
    if not content.startswith(b"\x89PNG\r\n"):
        raise bad("picture", "there is no such picture", "look at the first page again")
    return Response(content, media_type="image/png", headers={"cache-control": "private, max-age=31536000, immutable"})


def _suffix(name: str) -> str:
    return name.rpartition(".")[2].lower()


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(1, round(size / 1e3))} kB"
