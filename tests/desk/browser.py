"""A real headless Chromium, found on this machine, that may speak to the desk and to nobody else."""

import contextlib
import os
import shutil
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page, expect, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
NONE_HERE = "BALLTRACK_NO_BROWSER"  # set on a machine that has none, to skip what needs one
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
PATIENCE_MS = 120_000  # an overloaded machine is no failure


def browser_path() -> str:
    """Where the browser is. Fails the test where there is none, unless the environment says that none is expected."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None and os.environ.get(NONE_HERE):
        pytest.skip(f"no browser here, as {NONE_HERE} says")
    if found is None:
        pytest.fail(f"no browser found ({', '.join(NAMES)}); install Chromium, or set {NONE_HERE}=1 to go without")
    return found


@contextlib.contextmanager
def browsing(address: str, size: tuple[int, int] = (1280, 800), touch: bool = False) -> Iterator[Page]:
    """Give a page of a fresh browser, of a phone's where ``touch``: fingers, and three dots to a pixel of the page.

    Fails on any request to another host, any script error, any refused policy.
    """
    path = browser_path()
    host = urlsplit(address).netloc
    strangers: list[str] = []
    troubles: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        try:
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]},
                has_touch=touch,
                is_mobile=touch,
                device_scale_factor=3 if touch else 1,
            )
            page = context.new_page()
            page.set_default_timeout(PATIENCE_MS)
            expect.set_options(timeout=PATIENCE_MS)
            context.on(
                "request",
                lambda request: (
                    None
                    if urlsplit(request.url).netloc == host or request.url.startswith(("data:", "blob:"))
                    else strangers.append(request.url)
                ),
            )
            page.on("pageerror", lambda error: troubles.append(str(error)))
            page.on(
                "console", lambda said: troubles.append(said.text) if "Content Security Policy" in said.text else None
            )
            yield page
        finally:
            browser.close()
    assert not strangers, "the page asked another host"
    assert not troubles
