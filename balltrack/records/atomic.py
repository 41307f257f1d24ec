"""Files that are whole or not there: an interrupted write leaves the earlier file as it was."""

import contextlib
import os
import re
import tempfile
import time
from pathlib import Path

from balltrack.errors import RecordError

HALF_WRITTEN = re.compile(r"\..+\.[a-z0-9_]{8}")  # .swings.jsonl.x3k_92ab, as Python's tempfile names them
STALE_S = 3600.0


def write_atomic(path: Path, content: str | bytes, encoding: str = "utf-8") -> None:
    """Write ``content`` beside ``path``, force it to the disk, then put it in place in one step.

    Raises
    ------
    RecordError
        If the folder or file cannot be written, with the system's reason.
    """
    data = content.encode(encoding) if isinstance(content, str) else content
    temporary: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as file:
            temporary = Path(file.name)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o644)  # a temporary file is private; a result is as readable as the clip it is from
        temporary.replace(path)
        temporary = None
    except OSError as error:
        raise RecordError(f"{path} cannot be written: {error.strerror or error}; free or unlock the folder") from None
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def sweep(folder: Path) -> None:
    """Take away the beginnings of files that a killed program left in a folder and below it.

    Only for who holds the folder alone (`records.alone`): anybody else's file may be about to be put in place. Under
    ``review`` others write too; there only what is an hour old goes.
    """
    for path in folder.rglob(".*"):
        if HALF_WRITTEN.fullmatch(path.name) and path.is_file():
            with contextlib.suppress(OSError):  # it does no harm
                if "review" not in path.relative_to(folder).parts or time.time() - path.stat().st_mtime > STALE_S:
                    path.unlink()
