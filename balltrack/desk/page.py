"""Pages from templates, and answers to the pages' scripts."""

from functools import lru_cache
from typing import TypeVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from pydantic import BaseModel, ValidationError
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from balltrack import __version__
from balltrack.errors import EditConflict, LessonError, MeasureError

MOST_JSON_BYTES = 2_000_000  # a lesson's marks and words take a few thousand

_Model = TypeVar("_Model", bound=BaseModel)


@lru_cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("balltrack.desk", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(request: Request, template: str, /, **values: object) -> Response:
    """A page. Templates also know ``base`` (the address up to the token), ``here`` (path after it), ``version``."""
    base = str(request.scope.get("root_path", "")).rstrip("/")
    here = request.scope["path"].removeprefix(base).strip("/")
    html = _environment().get_template(template).render(base=base, here=here, version=__version__, **values)
    return HTMLResponse(html)


async def read_json(request: Request) -> bytes:
    """The body of a script's request. Raises MeasureError where it is too long."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > MOST_JSON_BYTES:
            raise MeasureError(f"more than {MOST_JSON_BYTES // 1_000_000} MB sent at once; load the page anew")
    return body


def parse(model: type[_Model], body: bytes) -> _Model:
    """What a script sent. Raises LessonError where it is not of that shape."""
    try:
        return model.model_validate_json(body)
    except ValidationError as error:
        what = error.errors(include_url=False)[0]
        raise LessonError(f"the page sent what is not understood ({what['msg']}); load it anew") from None


def explain(request: Request, error: Exception) -> Response:
    """A person's mistake, in its own words: to a script as JSON, else as a page."""
    status = 409 if isinstance(error, EditConflict) else 422
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"error": str(error)}, status)
    page = render(request, "error.html.j2", lines=str(error).splitlines())
    page.status_code = status
    return page
