"""The desk page as a person runs it: a real server in a thread, on a free port of this machine."""

import contextlib
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import uvicorn

from balltrack.desk.app import build_app
from balltrack.desk.serve import configure, listening

TOKEN = "a-token-of-a-test"


@contextlib.contextmanager
def served(folder: Path) -> Iterator[str]:
    """Give the address with its token, such as ``http://127.0.0.1:4711/token``."""
    with listening(0) as ear:
        server = uvicorn.Server(configure(build_app(folder, TOKEN)))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [ear]})
        thread.start()
        while not server.started and thread.is_alive():
            time.sleep(0.01)
        try:
            yield f"http://127.0.0.1:{ear.getsockname()[1]}/{TOKEN}"
        finally:
            server.should_exit = True
            thread.join(10)


@contextlib.contextmanager
def asking(folder: Path) -> Iterator[httpx.Client]:
    """Give a client of the served page; paths are relative to the address with its token, ``setup``."""
    with served(folder) as address, httpx.Client(base_url=f"{address}/", trust_env=False, timeout=60) as client:
        yield client
