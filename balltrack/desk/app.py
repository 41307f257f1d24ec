"""The desk page as a whole: its addresses, all below the token."""

from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from balltrack.desk.guard import Guard
from balltrack.desk.page import explain
from balltrack.errors import MeasureError

STATIC = Path(__file__).parent / "static"


def build_app(folder: Path, token: str) -> Starlette:
    """Make the page of a lesson folder.

    Parameters
    ----------
    folder : Path
        The lesson folder; lesson.toml may be missing. Nothing outside it is read or written.
    token : str
        First part of every address. Whoever does not know it is refused.
    """
    routes = [
        Route("/", _home),
        Mount("/static", StaticFiles(directory=STATIC), name="static"),
    ]
    return Starlette(
        routes=[Mount(f"/{token}", routes=routes)],
        middleware=[Middleware(Guard, token=token)],
        exception_handlers={MeasureError: explain},
    )


async def _home(request: Request) -> Response:
    return RedirectResponse(f"{request.scope['root_path']}/setup")
