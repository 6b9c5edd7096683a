"""Serve the bench on this machine's own address, and nowhere else."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from wattwitness.model.errors import SettingInvalid
from wattwitness.web.application import make_application

ADDRESS = "127.0.0.1"
PATIENCE_S = 4


def serve(bench: Path, *, port: int, ready: Callable[[str], None]) -> None:
    """Serve until the process is asked to end; ``ready`` gets the address once it can be opened.

    Port 0: any that is free. Raises SettingInvalid where the port cannot be had.
    """
    import uvicorn

    with _listening(port) as listener:
        actual = int(listener.getsockname()[1])
        application = make_application(bench, port=actual, token=secrets.token_urlsafe(24))
        config = uvicorn.Config(
            application,
            log_level="critical",
            access_log=False,
            server_header=False,
            date_header=False,
            ws="none",
            proxy_headers=False,
            timeout_graceful_shutdown=PATIENCE_S,
        )
        ready(f"http://{ADDRESS}:{actual}/")
        with suppress(KeyboardInterrupt):  # Ctrl+C is how it is ended; the server has closed everything by then
            uvicorn.Server(config).run(sockets=[listener])


def _listening(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((ADDRESS, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise SettingInvalid(
            f"The port {port} cannot be had: {error.strerror}.",
            where="--port",
            hint="Another program may be using it (perhaps this one, in another window): name another, or 0 for any.",
        ) from error
    return listener
