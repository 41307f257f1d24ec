"""Who may ask the desk page, and for which files: only this machine, with the token, inside the lesson folder."""

import hmac
from pathlib import Path
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from balltrack.errors import LessonError

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
SAFE_METHODS = frozenset({"GET", "HEAD"})
# No script or style in the page's own text, nothing from another host, no frame around it.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; media-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",  # the address holds the token
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


class Guard:
    """Refuses what does not come from this machine's own page, and puts the protecting headers on every answer.

    A page of another site can reach 127.0.0.1 under a name of its own (its Host header tells), and can send forms
    (its Origin header tells); neither knows the token.
    """

    def __init__(self, app: ASGIApp, token: str) -> None:
        self.app = app
        self._token = token.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await (refusal or self.app)(scope, receive, send_guarded)

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if host_name(host) not in LOOPBACK:
            return PlainTextResponse("This page answers to this computer only.", 403)
        first = str(scope["path"]).split("/", 2)[1] if str(scope["path"]).startswith("/") else ""
        if not hmac.compare_digest(first.encode(), self._token):
            return PlainTextResponse("Not here: open the address that balltrack desk printed.", 404)
        origin = headers.get("origin")
        if scope["method"] not in SAFE_METHODS and origin is not None and origin != f"http://{host}":
            return PlainTextResponse("This page takes changes from itself only.", 403)
        return None


def host_name(host: str) -> str:
    """The name in a Host header, without its port; empty where there is none."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def inside(folder: Path, *parts: str) -> Path:
    """The path of something in the lesson folder.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    parts : str
        Names below it; a part may hold slashes.

    Raises
    ------
    LessonError
        If it lies outside, or a link leads outside.
    """
    path = folder.joinpath(*(part.replace("\\", "/") for part in parts))
    try:
        resolved = path.resolve()
    except (OSError, ValueError, RuntimeError):  # a name that no system takes, or links in a circle
        raise LessonError(f"{'/'.join(parts)!r} is no name of a file in the lesson folder") from None
    if not resolved.is_relative_to(folder.resolve()):
        raise LessonError(f"{'/'.join(parts)!r} leads out of the lesson folder; copy the file in instead")
    return path
