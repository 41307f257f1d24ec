"""Measuring, and the review page that it leaves."""

from dataclasses import asdict
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from balltrack.desk.guard import inside
from balltrack.desk.job import Job

# The review page carries its style and its chart in itself; it has no script, and may have none.
REVIEW_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; media-src 'self'; base-uri 'none'"


def results_routes(folder: Path, job: Job) -> list[Route]:
    """The addresses of measuring and of the review, relative to the token."""

    async def measure(request: Request) -> Response:
        act = {"GET": job.progress, "HEAD": job.progress, "POST": job.start, "DELETE": job.cancel}[request.method]
        return JSONResponse(asdict(await run_in_threadpool(act)))

    async def review(request: Request) -> Response:
        path = inside(inside(folder, "results", "review"), request.path_params["name"] or "index.html")
        if not path.is_file():
            return PlainTextResponse("Not there: measure the lesson first.", 404)
        return FileResponse(path, headers={"content-security-policy": REVIEW_POLICY})

    return [
        Route("/measure", measure, methods=["GET", "POST", "DELETE"]),
        Route("/review/{name:path}", review),
    ]
