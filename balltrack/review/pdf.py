"""The page as a PDF, laid out by WeasyPrint: no browser needed, nothing fetched."""

from typing import Literal

from balltrack.errors import RecordError

Paper = Literal["A4", "Letter"]
LACKING = (
    "no PDF was written: the system lacks Pango, which lays out its text ({error}); on Debian or Ubuntu: "
    "sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0; on a Mac: brew install pango; "
    "meanwhile print index.html from a browser"
)


def page_pdf(html: str, paper: Paper) -> bytes:
    """Lay a page out on paper.

    Raises
    ------
    RecordError
        If the libraries that WeasyPrint needs are not on this system.
    """
    try:
        import weasyprint
    except (ImportError, OSError) as error:  # OSError: a library of the system is missing
        raise RecordError(LACKING.format(error=str(error).splitlines()[0])) from None
    size = weasyprint.CSS(string=f"@page {{ size: {paper} }}")
    inside = weasyprint.urls.URLFetcher(allowed_protocols={"data"}, fail_on_errors=True)  # nothing is fetched
    page = weasyprint.HTML(string=html, url_fetcher=inside)
    return bytes(page.write_pdf(stylesheets=[size], pdf_tags=True) or b"")
