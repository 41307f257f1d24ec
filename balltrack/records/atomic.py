"""Files that are whole or not there: an interrupted write leaves the earlier file as it was."""

import os
import tempfile
from pathlib import Path

from balltrack.errors import RecordError


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
