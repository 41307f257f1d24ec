"""Putting new weights in place without losing what stood there."""

from pathlib import Path

from balltrack.errors import DetectorError, RecordError
from balltrack.records.atomic import write_atomic


def install(weights: Path, target: Path) -> Path | None:
    """Copy weights to ``target``; what stands there is kept beside it as a numbered backup.

    Returns
    -------
    Path or None
        The backup, own-ball.1.onnx, own-ball.2.onnx, ...; None where nothing stood there.

    Raises
    ------
    DetectorError
        If the place cannot be written; what stood there still does.
    """
    try:
        backup = _free(target) if target.exists() else None
        if backup is not None:
            write_atomic(backup, target.read_bytes())
        write_atomic(target, weights.read_bytes())
    except (OSError, RecordError) as error:
        raise DetectorError(f"the new weights cannot be put in place ({error}); give another --out") from None
    return backup


def _free(target: Path) -> Path:
    number = 1
    while (backup := target.with_name(f"{target.stem}.{number}{target.suffix}")).exists():
        number += 1
    return backup
