"""What earlier runs measured and what of it still holds: only what changed is measured again.

A clip's result depends on the file's content, on a person's corrections, and on what all clips share: settings, camera,
the first clip's picture, the network and the program itself. Each is told by a hash that stands beside the result. Size
and date of a file never prove that it is the same; another size proves that it is not.
"""

import hashlib
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

from balltrack.batch.done import content_hash, picture_path
from balltrack.errors import RecordError
from balltrack.lesson import Clip
from balltrack.measure import ClipResult, clip_result
from balltrack.records.atomic import sweep
from balltrack.records.basis_file import Made, basis_path, read_bases, read_made
from balltrack.records.corrections import corrections_version
from balltrack.records.hand import remove
from balltrack.records.store import track_path
from balltrack.setup import Setup


def setup_hash(setup: Setup) -> str:
    """Changes whenever anything does that all clips of a lesson are measured with: 16 hex digits."""
    camera = setup.solved.camera
    luma = setup.still.luma.tobytes() if setup.still else b""
    digest = hashlib.sha256(program_hash().encode())
    for part in (
        setup.lesson.settings_hash.encode(),
        setup.detector.encode(),
        repr(camera.size_px).encode(),
        camera.parameters.tobytes(),
        camera.covariance.tobytes(),
        luma,
    ):
        digest.update(len(part).to_bytes(8, "big") + part)
    return digest.hexdigest()[:16]


@cache
def program_hash() -> str:
    """Changes with any line of the package, as its version would: who works on it never looks at stale numbers."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for path in sorted(package.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def still_valid(clips: Sequence[Clip], setup: str, results: Path, readers: int) -> dict[str, Made]:
    """Of which clips an earlier run's result holds, with what was said of each.

    Parameters
    ----------
    clips : sequence of Clip
    setup : str
        By `setup_hash`.
    results : Path
    readers : int
        Files read at the same time: nothing but their content proves that they are the same.
    """
    found = [(clip, _made_alike(clip, setup, results)) for clip in clips]
    hopeful = [(clip, made) for clip, made in found if made]
    with ThreadPoolExecutor(readers) as pool:
        contents = pool.map(content_hash, [clip.path for clip, _ in hopeful])
        return {
            clip.name: made
            for (clip, made), content in zip(hopeful, contents, strict=True)
            if content and content == made.content
        }


def _made_alike(clip: Clip, setup: str, results: Path) -> Made | None:
    """What is said of a clip's result if it was made with the same set-up and corrections, and is there as a whole."""
    made = read_made(results / basis_path(clip.name))
    if made is None or made.setup != setup or not (results / track_path(clip.name)).is_file():
        return None
    try:
        read_bases(results / basis_path(clip.name))
        return made if made.corrections == corrections_version(results, clip.name) else None
    except RecordError:
        return None  # measuring says what is wrong


def result_on_disk(clip: Clip, results: Path) -> ClipResult:
    """The result of a clip as its file has it. Raises RecordError if it cannot be read."""
    return clip_result(clip, *read_bases(results / basis_path(clip.name)))


def tidy(results: Path, clips: Iterable[str]) -> None:
    """Take away what killed runs left half written, and the results of clips that are no longer in the lesson.

    What a person put right stays: the clip may come back. Raises RecordError where the system refuses.
    """
    names = set(clips)
    own = {path for name in names for path in (track_path(name), basis_path(name))}
    own |= {picture_path(kind, name) for kind in ("moved", "unmatched") for name in names}
    sweep(results)
    for folder in ("tracks", "review/moved", "review/unmatched"):
        for path in (results / folder).rglob("*"):
            made_here = path.name.endswith((".csv", ".basis.json", ".jpg")) and not path.name.endswith(".hand.csv")
            if made_here and path.relative_to(results) not in own:
                remove(path)
