"""Serving the app: on this machine alone, or in the network behind a passphrase."""

from __future__ import annotations

import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ringwright.desk.shelf import open_shelf
from ringwright.terms.mistake import bad

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"


@dataclass(frozen=True, kw_only=True)
class Serving:
    """How the app is served. ``port`` 0 takes a free one. ``passphrase`` is for ``lan`` alone."""

    folder: Path
    port: int = 8765
    lan: bool = False
    passphrase: str | None = None
    certificate: Path | None = None
    key: Path | None = None
    database: str | None = None


def serve(how: Serving, ready: Callable[[str], None] = print) -> None:
    """Open the shelf and serve the app until it is interrupted; ``ready`` is told the address.

    Raises ``BadInput`` where the folder, the port, the passphrase or the certificate will not do.
    """
    import uvicorn

    from ringwright.web.app import make_app
    from ringwright.web.passphrase import Door

    if how.lan and not how.passphrase:
        raise bad("--lan", "an app that is open to the network needs a passphrase", "give one when it asks for it")
    if (how.certificate is None) != (how.key is None):
        raise bad("--certificate", "a certificate and its key go together", "name both, or neither")
    if how.certificate is not None:
        _checked(how.certificate, how.key)
    door = Door(how.passphrase or "") if how.lan else None
    listening = _listen(EVERYWHERE if how.lan else LOOPBACK, how.port)
    with listening, open_shelf(how.folder, database=how.database) as shelf:
        config = uvicorn.Config(
            make_app(shelf, door=door),
            log_level="warning",
            access_log=False,
            server_header=False,
            ws="none",
            lifespan="on",
            timeout_keep_alive=15,
            timeout_graceful_shutdown=3,
            limit_concurrency=200,
            proxy_headers=False,
            ssl_certfile=how.certificate,
            ssl_keyfile=how.key,
        )
        port = listening.getsockname()[1]
        scheme = "https" if how.certificate else "http"
        ready(f"{scheme}://{own_address() if how.lan else LOOPBACK}:{port}/")
        with suppress(KeyboardInterrupt):  # that is how serving ends
            uvicorn.Server(config).run(sockets=[listening])


def own_address() -> str:
    """This machine's address in its network, as far as it knows; nothing is sent to find it."""
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # an address kept for documents; connecting a datagram socket sends nothing
        return str(probe.getsockname()[0])
    return socket.gethostname()


def _checked(certificate: Path, key: Path | None) -> None:
    """Raises ``BadInput`` where a certificate and its key cannot be used."""
    import ssl

    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password=lambda: "")
    except OSError as fault:  # what ssl raises is one too
        why = fault.strerror or str(fault)
        raise bad(
            "--certificate", f"it cannot be used ({why})", "name a certificate and its key, both as PEM"
        ) from fault


def _listen(host: str, port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen(128)  # so that whoever is told the address may ask at once
    except OSError as fault:
        listening.close()
        raise bad("--port", f"port {port} cannot be used ({fault.strerror})", "name another, or 0 for any") from fault
    return listening
