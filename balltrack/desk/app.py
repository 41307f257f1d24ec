"""The desk page as a whole: its addresses, all below the token."""

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from balltrack.desk.guard import Guard
from balltrack.desk.job import Job
from balltrack.desk.marks_page import marks_routes
from balltrack.desk.page import explain
from balltrack.desk.results_page import results_routes
from balltrack.desk.review_page import review_routes
from balltrack.desk.setup_page import setup_routes
from balltrack.desk.stills_page import stills_routes
from balltrack.desk.swings_page import swings_routes
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
    job = Job(folder)

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(job.close)

    routes = [
        Route("/", _home),
        *setup_routes(folder),
        *marks_routes(folder),
        *results_routes(folder, job),
        *swings_routes(folder),
        *review_routes(folder),
        *stills_routes(folder),
        Mount("/static", StaticFiles(directory=STATIC), name="static"),
    ]
    return Starlette(
        routes=[Mount(f"/{token}", routes=routes)],
        middleware=[Middleware(Guard, token=token)],
        exception_handlers={MeasureError: explain},
        lifespan=lifespan,
    )


async def _home(request: Request) -> Response:
    return RedirectResponse(f"{request.scope['root_path']}/setup")
