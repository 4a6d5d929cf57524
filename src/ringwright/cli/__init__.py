"""The command line. It shows what the desk answers and knows nothing of the trade itself.

Exit status: 0 done, with or without remarks; 1 a remark says ``halt``; 2 bad input; 3 interrupted;
4 a computation failed, or Ringwright itself did.
"""

from __future__ import annotations

import os
import sys
import warnings
from pathlib import Path
from typing import Annotated, Any

import typer

DONE, HALT, BAD_INPUT, INTERRUPTED, FAILED = 0, 1, 2, 3, 4
_PARSER_INTERRUPTED = 130

app = typer.Typer(
    name="ringwright",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON, and nothing else.")]
WorkshopFile = Annotated[Path | None, typer.Option("--workshop", help="The workshop's file.", show_default=False)]


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"ringwright {version('ringwright')}")
        raise typer.Exit


@app.callback()
def ringwright(
    version: Annotated[
        bool, typer.Option("--version", is_eager=True, callback=_version, help="Print the version.")
    ] = False,
) -> None:
    """Ringwright makes the ring on paper first: works a commission through before the metal is melted."""


@app.command()
def plan(
    commission: Annotated[Path, typer.Argument(help="A *.commission.toml file.", show_default=False)],
    workshop: Annotated[
        Path | None, typer.Option(help="The workshop's file; without it, workshop.toml beside the commission.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder of the dossier; without it, the commission's name with .dossier.")
    ] = None,
    thorough: Annotated[
        bool,
        typer.Option("--thorough", help="Search gates and sprue by freezing: up to a minute more."),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Work a commission through and write its dossier."""
    from ringwright.cli import show
    from ringwright.desk.planning import plan as planned

    with show.progress() as told:
        done = planned(commission, workshop, out, now=_now(), thorough=thorough, progress=told)
    if as_json:
        show.as_json(show.planned_data(done))
    else:
        show.planned(done)
    raise typer.Exit(_status(done.verdict))


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write the two commissions.")] = Path("ringwright-demo"),
    browse: Annotated[
        bool | None,
        typer.Option(
            "--open/--no-open",
            help="Then open the workshop's page, and serve it until Ctrl+C; without either, where there is a screen.",
            show_default=False,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write two commissions of our own, plan both, and open the workshop's page on them."""
    from ringwright.cli import show
    from ringwright.desk.demo import write_demo
    from ringwright.desk.planning import plan as planned

    found = []
    for path in write_demo(folder, _now().date()):
        with show.progress(path.name) as told:
            found.append(planned(path, now=_now(), progress=told))
        if not as_json:
            show.planned(found[-1])
    if as_json:
        show.as_json([show.planned_data(done) for done in found])
    if browse or (browse is None and not as_json and _has_screen()):
        from ringwright.web.serving import Serving
        from ringwright.web.serving import serve as served

        _say("the workshop's page is served until Ctrl+C")
        served(Serving(folder=folder, port=0), lambda address: _show_page(address, browse=True))
    elif not as_json:
        _say(f"ringwright serve --open {folder} shows it in the browser")
    raise typer.Exit(max(_status(done.verdict) for done in found))


@app.command()
def facts(
    table: Annotated[str | None, typer.Argument(help="A table; without it, the list of tables.")] = None,
    key: Annotated[str | None, typer.Argument(help="Only the rows of this key.")] = None,
    as_json: AsJson = False,
) -> None:
    """Print the trade's figures, each with its source."""
    from ringwright.cli import show
    from ringwright.desk.asking import table as rows_of

    rows = rows_of(table, key)
    if as_json:
        show.as_json(rows)
    elif table is None:
        show.tables(rows)
    else:
        show.rows(rows)


@app.command()
def serve(
    folder: Annotated[Path, typer.Argument(help="The workshop's folder; made where it is missing.")] = Path(),
    port: Annotated[int, typer.Option(help="Port; 0 takes a free one.", min=0, max=65535)] = 8765,
    lan: Annotated[bool, typer.Option("--lan", help="Open to the network, behind a passphrase.")] = False,
    certificate: Annotated[
        Path | None, typer.Option(help="Certificate (PEM), so that nobody in the network can listen.")
    ] = None,
    key: Annotated[Path | None, typer.Option(help="The certificate's key (PEM).")] = None,
    database: Annotated[
        str | None, typer.Option(help="postgresql+psycopg://… instead of a file in the folder.")
    ] = None,
    browse: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
) -> None:
    """Serve the workshop's page on this machine, or with --lan in its network, until Ctrl+C.

    The passphrase of --lan is asked for, or taken from RINGWRIGHT_PASSPHRASE.
    """
    from ringwright.web.serving import Serving
    from ringwright.web.serving import serve as served

    passphrase = None
    if lan:
        passphrase = os.environ.get("RINGWRIGHT_PASSPHRASE") or typer.prompt("Passphrase", hide_input=True)
        if certificate is None:
            _say("without --certificate all that is sent can be read in the network: only where you trust it")

    how = Serving(
        folder=folder, port=port, lan=lan, passphrase=passphrase, certificate=certificate, key=key, database=database
    )
    served(how, lambda address: _show_page(address, browse=browse))


@app.command()
def schema() -> None:
    """Print the JSON Schema of dossier.json."""
    from ringwright.cli import show
    from ringwright.desk.asking import dossier_schema

    show.as_json(dossier_schema())


@app.command()
def size(
    value: Annotated[str, typer.Argument(help="The size as the client says it, such as 54, N or 7 1/4.")],
    system: Annotated[
        str | None, typer.Option(help="iso, us, uk, jp, ch or diameter; not needed where the size names it.")
    ] = None,
    band_width: Annotated[str | None, typer.Option(help='Width of the band, such as "8 mm".')] = None,
    as_json: AsJson = False,
) -> None:
    """One finger size in every system.

    With a band's width: the ring that this finger needs at that width.
    """
    from ringwright.cli import show
    from ringwright.desk import asking

    show.answered(asking.size(value, system, band_width), show.size, as_json)


@app.command()
def stone(
    cut: Annotated[str, typer.Option(help="Cut, as in the facts: round brilliant, oval, pear ...")],
    size_: Annotated[str, typer.Option("--size", help='Length, width and depth: "7.0 x 5.0 x 3.2 mm".')],
    material: Annotated[str, typer.Option(help="Gem material, as in the facts.")],
    stated: Annotated[str | None, typer.Option(help='Mass on the seller\'s paper, such as "1.31 ct".')] = None,
    as_json: AsJson = False,
) -> None:
    """What a stone of that size weighs, and may weigh."""
    from ringwright.cli import show
    from ringwright.desk import asking

    _exit(show.answered(asking.stone(cut, size_, material, stated), show.stone, as_json))


@app.command()
def weigh(
    model: Annotated[Path, typer.Argument(help="STL, 3MF, OBJ, PLY, GLB or STEP.", show_default=False)],
    units: Annotated[str | None, typer.Option(help="mm, cm, m or in; guessed and said where absent.")] = None,
    as_json: AsJson = False,
) -> None:
    """What was drawn: volume, mass, finger hole.

    Says whether the model is a solid, what was mended, and its mass in every alloy.
    """
    from ringwright.cli import show
    from ringwright.desk import asking

    _exit(show.answered(asking.weigh(model, units), show.weigh, as_json))


@app.command()
def recipe(
    alloy: Annotated[str, typer.Option(help="Key of the alloy in the facts, such as 18k-3n.")],
    mass: Annotated[str, typer.Option(help='Mass of the charge, such as "12 g" or "8 dwt".')],
    scrap: Annotated[str | None, typer.Option(help='Clean scrap of the same alloy, such as "4 g".')] = None,
    stock: Annotated[Path | None, typer.Option(help="A workshop's file, for its stock, prices and scale.")] = None,
    as_json: AsJson = False,
) -> None:
    """What to weigh out for a charge of an alloy."""
    from ringwright.cli import show
    from ringwright.desk import asking

    _exit(show.answered(asking.recipe(alloy, mass, scrap, asking.read_stock(stock)), show.recipe, as_json))


@app.command()
def burnout(
    flask: Annotated[str, typer.Option(help='Inner diameter and height: "80 x 100 mm".')],
    pattern: Annotated[str, typer.Option(help="wax or resin, or the key of a pattern material in the facts.")],
    kiln: Annotated[str | None, typer.Option(help="Name of a kiln in the workshop's file.")] = None,
    flask_temperature: Annotated[str | None, typer.Option(help='At the pour, such as "540 °C".')] = None,
    workshop: WorkshopFile = None,
    as_json: AsJson = False,
) -> None:
    """The kiln's programme for a flask."""
    from ringwright.cli import show
    from ringwright.desk import asking

    at_C = asking.measure(flask_temperature, "°C", "--flask-temperature") if flask_temperature is not None else None
    answer = asking.burnout(flask, pattern, kiln, asking.read_stock(workshop), at_C)
    _exit(show.answered(answer, show.burnout, as_json))


@app.command()
def mark(
    market: Annotated[str, typer.Option(help="Where the ring is sold: uk, us, ch ...")],
    alloy: Annotated[str, typer.Option(help="Key of the alloy in the facts.")],
    mass: Annotated[str, typer.Option(help='Mass of the finished ring, such as "4.2 g".')],
    as_json: AsJson = False,
) -> None:
    """What must, may and must never be stamped."""
    from ringwright.cli import show
    from ringwright.desk import asking

    _exit(show.answered(asking.mark(market, alloy, mass), show.mark, as_json))


def main() -> None:
    """Run the command line; every fault ends in plain words and an exit status, never in a traceback."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command; the exit status."""
    from ringwright.terms.mistake import BadInput, ComputingFault, Stopped

    _stop_on_terminate()
    if not os.environ.get("RINGWRIGHT_TRACE"):
        warnings.simplefilter("ignore")  # they are for developers; what a person must know is a remark or a fault
    if arguments and arguments[0] not in ("--help", "-h", "--version"):
        from ringwright.desk.starting import prepare_process

        prepare_process()
    try:
        return _called(arguments)
    except BadInput as fault:
        for mistake in fault.mistakes:
            _say(str(mistake))
        return BAD_INPUT
    except (KeyboardInterrupt, Stopped):
        _say("interrupted; nothing that was there before has been changed")
        return INTERRUPTED
    except ComputingFault as fault:
        _say(f"the computation failed, and nothing was written: {fault}")
        return FAILED
    except BrokenPipeError:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123 - so that the exit does not fail again
        return DONE
    except Exception as fault:
        if os.environ.get("RINGWRIGHT_TRACE"):
            raise
        _say(f"Ringwright itself failed ({type(fault).__name__}: {fault}); RINGWRIGHT_TRACE=1 tells where")
        return FAILED


def _called(arguments: list[str]) -> int:
    """The status of a command, with the parser's own mistakes told as it tells them."""
    from typer.exceptions import Abort, TyperException

    try:
        status = app(arguments, prog_name="ringwright", standalone_mode=False)
    except Abort:
        raise KeyboardInterrupt from None
    except TyperException as fault:
        show = getattr(fault, "show", None)
        if show:
            show()
        else:
            _say(fault.format_message())
        return BAD_INPUT
    if status == _PARSER_INTERRUPTED:
        raise KeyboardInterrupt
    return status if isinstance(status, int) else DONE


def _say(text: str) -> None:
    """One plain line for the person, on the error stream."""
    sys.stderr.write(f"ringwright: {text}\n")


def _show_page(address: str, *, browse: bool) -> None:
    """Print the address of the page, and open it where that is wanted."""
    typer.echo(address)
    if browse:
        import webbrowser

        if not webbrowser.open(address):
            _say("no browser could be opened: open the address yourself")


def _has_screen() -> bool:
    """Whether a person sits at this machine with a screen before them: then a page may be opened unasked."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or "SSH_CONNECTION" in os.environ:
        return False
    return sys.platform in ("darwin", "win32") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _exit(remarks: list[dict[str, Any]]) -> None:
    """End with the status that the gravest remark asks for."""
    raise typer.Exit(HALT if any(remark["level"] == "halt" for remark in remarks) else DONE)


def _status(verdict: Any) -> int:
    return HALT if verdict.value == "halt" else DONE


def _now() -> Any:
    import datetime as dt

    return dt.datetime.now().astimezone()


def _stop_on_terminate() -> None:
    """Let a polite kill end the work as Ctrl-C does, with everything put away."""
    import signal

    def stop(_signal: int, _frame: Any) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, stop)
