"""Serving the desk page to this machine alone."""

import secrets
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn
from starlette.applications import Starlette

from balltrack.desk.app import build_app
from balltrack.errors import LessonError

HOST = "127.0.0.1"


def serve(folder: Path, port: int, open_browser: bool, announce: Callable[[str], None]) -> None:
    """Serve the page of a lesson folder until it is stopped (Ctrl-C).

    Parameters
    ----------
    folder : Path
        The lesson folder. It may hold nothing yet.
    port : int
        0 takes any free one.
    open_browser : bool
    announce : callable
        Told the address, once it answers.

    Raises
    ------
    LessonError
        If there is no such folder, or the port is taken.
    """
    if not folder.is_dir():
        raise LessonError(f"{folder}: no such folder; make it first, the clips can be dropped into the page")
    token = secrets.token_urlsafe(24)
    config = configure(build_app(folder, token))
    with listening(port) as ear:
        address = f"http://{HOST}:{ear.getsockname()[1]}/{token}/"
        announce(address)
        if open_browser:
            webbrowser.open(address)  # it waits in the socket's queue until the server answers
        uvicorn.Server(config).run(sockets=[ear])


def configure(app: Starlette) -> uvicorn.Config:
    """How the page is served: quietly, and with its waiting answers cut off soon after Ctrl-C."""
    return uvicorn.Config(
        app,
        log_level="error",
        access_log=False,  # the address holds the token
        server_header=False,
        ws="none",
        timeout_graceful_shutdown=3,
    )


def listening(port: int) -> socket.socket:
    """A socket that only this machine reaches. Raises LessonError where the port is taken."""
    ear = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    ear.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        ear.bind((HOST, port))
        ear.listen(64)
    except OSError as error:
        ear.close()
        raise LessonError(f"port {port} cannot be used: {error.strerror or error}; give another with --port") from None
    return ear
