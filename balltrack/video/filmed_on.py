"""The day on which a clip was filmed, as the phone wrote it."""

import datetime
from pathlib import Path

from balltrack.video.container import opened

LOCAL_TIME = "com.apple.quicktime.creationdate"  # with the offset from UTC at the place of filming
UTC_TIME = "creation_time"  # ISO base media: UTC; the day is that of this machine's clock then
FIRST_YEAR = 2000  # clocks that were never set say 1904 or 1970


def filmed_on(path: Path) -> datetime.date | None:
    """The day, where the clip tells it. Raises VideoError where the clip cannot be opened."""
    with opened(path) as container:
        tags = {key.casefold(): value for stream in container.streams for key, value in stream.metadata.items()}
        tags |= {key.casefold(): value for key, value in container.metadata.items()}
    local, utc = _moment(tags.get(LOCAL_TIME, "")), _moment(tags.get(UTC_TIME, ""))
    if utc and not local:
        local = utc.astimezone() if utc.tzinfo else utc
    return local.date() if local and local.year >= FIRST_YEAR else None


def _moment(words: str) -> datetime.datetime | None:
    try:
        return datetime.datetime.fromisoformat(words)
    except ValueError:
        return None
