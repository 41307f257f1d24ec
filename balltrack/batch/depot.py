"""A lesson on shared storage: any address that fsspec knows, such as s3://academy/2026-05-30/robin.

Films are large and are fetched where they are measured. Everything else of the lesson is small and is mirrored into a
folder here, in which the lesson is measured like any other; what is written there is put back. In that folder a film is
a stub, a line of text that says which version of the object it stands for: while that is the same, so is the film.
"""

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from balltrack.errors import MeasureError, StorageError
from balltrack.lesson.folder import CLIP_SUFFIXES
from balltrack.records.logbook.entry import END_BYTES, fingerprint_from

LARGEST_SMALL_BYTES = 64 * 2**20  # of what is mirrored; the basis of a clip with many swings takes less than one
LONGEST_STUB = 4096
STANDS_FOR, VERSION = "balltrack stub for ", ", version "
OWN_FOLDERS = ("clips", "results")  # beside the .toml files at the top


@dataclass(frozen=True, slots=True)
class Stored:
    """One object of a lesson."""

    name: str  # inside the lesson: clips/01-tee/001.mp4
    size: int  # bytes
    version: str  # changes whenever the object does
    changed_s: float  # when, in seconds of the epoch; 0 where the storage does not say


def is_address(place: str) -> bool:
    """Whether a place is an address rather than a folder of this machine."""
    return "://" in place


def lesson_places(words: Iterable[str]) -> tuple[str, ...]:
    """Folders and addresses as typed, each once; an address with * in it stands for all the lessons that it fits.

    Raises
    ------
    StorageError
        If the storage cannot be read, or nothing fits.
    """
    found: dict[str, None] = {}
    for word in words:
        fits = [word]
        if is_address(word) and "*" in word:
            with storage(word) as (system, root):
                fits = sorted(system.unstrip_protocol(each) for each in system.glob(root) if system.isdir(each))
        if not fits:
            raise StorageError(f"{word} fits no lesson; see the names there")
        found |= dict.fromkeys(each.rstrip("/") for each in fits)
    return tuple(found)


@contextlib.contextmanager
def storage(address: str) -> Iterator[tuple[Any, str]]:
    """The file system of an address and the path in it; whatever fails there is said in one line.

    Raises
    ------
    StorageError
        If the storage cannot be reached, read or written, or fsspec or its part for this kind of address is missing.
    """
    try:
        import fsspec
    except ImportError:
        raise StorageError(f"{address} needs fsspec: pip install 'balltrack[cluster]'") from None
    try:
        system, path = fsspec.core.url_to_fs(address)
        yield system, str(path).rstrip("/")
    except MeasureError:
        raise
    except FileNotFoundError:
        raise StorageError(f"{address}: there is nothing; check the address") from None
    except Exception as error:  # each kind of storage has errors of its own, of no common base
        what = " ".join(str(error).split()) or type(error).__name__
        raise StorageError(
            f"{address} cannot be used ({what}); check the address, and what the storage asks for: keys, its server"
        ) from None


class Depot:
    """One lesson on shared storage, as the machine sees it that gives out the work."""

    def __init__(self, address: str) -> None:
        self.address = address.rstrip("/")
        self._kept: dict[str, str] = {}  # by name, the hash of what the storage has as the mirror has it

    def mirror(self, folder: Path) -> None:
        """Bring the lesson into an empty folder, its films as stubs.

        Raises
        ------
        StorageError
            If the storage cannot be read, there is no lesson, or a name in it leads out of the folder.
        """
        listed = list_lesson(self.address)
        if not any(each.name == "lesson.toml" for each in listed):
            raise StorageError(f"{self.address} holds no lesson.toml; give the lesson's address, which has clips/ too")
        small = [each for each in listed if not _is_film(each.name) and not each.name.startswith("clips/")]
        for each in listed:
            path = folder / each.name
            path.parent.mkdir(parents=True, exist_ok=True)
            if each not in small:
                path.write_text(stub_words(each), encoding="utf-8")
                os.utime(path, (each.changed_s, each.changed_s))
        for each in small:
            if each.size > LARGEST_SMALL_BYTES:
                raise StorageError(f"{self.address}/{each.name} has {each.size} bytes; move it out of the lesson")
        with storage(self.address) as (system, root):  # all at the same time, where the storage can
            system.get([f"{root}/{each.name}" for each in small], [str(folder / each.name) for each in small])
        self._kept = {name: _hash(folder / name) for name in _results(folder)}

    def fetch(self, name: str, folder: Path) -> None:
        """Bring a film itself into the mirror, as old as it is. Raises StorageError."""
        stub = (folder / name).stat()
        with storage(self.address) as (system, root):
            system.get_file(f"{root}/{name}", str(folder / name))
        os.utime(folder / name, (stub.st_atime, stub.st_mtime))

    def put_back(self, folder: Path, under: str = "results") -> None:
        """Put what is new or changed in the mirror's results into the storage, and take away there what is gone.

        ``under`` is the beginning of the names that are looked at. Each object is replaced whole. Raises StorageError.
        """
        found = {name: _hash(folder / name) for name in _results(folder) if _is_under(name, under)}
        gone = [name for name in self._kept if _is_under(name, under) and name not in found]
        with storage(self.address) as (system, root):
            for name, digest in found.items():
                if self._kept.get(name) != digest:
                    system.put_file(str(folder / name), f"{root}/{name}")
            for name in gone:
                with contextlib.suppress(FileNotFoundError):
                    system.rm_file(f"{root}/{name}")
        self._kept = {name: digest for name, digest in self._kept.items() if name not in gone} | found

    def fingerprints(self, names: Sequence[str]) -> tuple[str, ...]:
        """What tells each film from others, as the logbook has it, from its beginning and its end alone."""
        with storage(self.address) as (system, root):
            paths = [f"{root}/{name}" for name in names]
            sizes = {path: int(system.info(path)["size"]) for path in paths}
            full = [path for path in paths if sizes[path]]  # of nothing no range can be asked
            starts = [0] * len(full) + [max(0, sizes[path] - END_BYTES) for path in full]
            stops = [min(END_BYTES, sizes[path]) for path in full] + [sizes[path] for path in full]
            ends = system.cat_ranges(full * 2, starts, stops, on_error="raise")
        told = dict(zip(full, zip(ends, ends[len(full) :], strict=False), strict=True))
        return tuple(fingerprint_from(sizes[path], *told.get(path, (b"", b""))) for path in paths)


def list_lesson(address: str) -> list[Stored]:
    """All objects of a lesson that belong to it, in the order of their names.

    Raises
    ------
    StorageError
        If the storage cannot be read, or a name leads out of the lesson.
    """
    with storage(address) as (system, root):
        system.invalidate_cache(root)
        found = system.find(root, detail=True)
    objects = [_stored(path.removeprefix(root).lstrip("/"), path, info) for path, info in sorted(found.items())]
    for each in objects:
        if any(part in ("..", ".", "") for part in each.name.split("/")) or "\\" in each.name or "\0" in each.name:
            raise StorageError(f"{address}: the name {each.name!r} leads out of the lesson; rename that object")
    return [each for each in objects if _belongs(each.name)]


@contextlib.contextmanager
def fetched(address: str, name: str) -> Iterator[tuple[Path, str]]:
    """A film of a lesson as a file of this machine while it is measured, and the version that was fetched.

    Raises
    ------
    StorageError
        If it cannot be fetched.
    """
    with tempfile.TemporaryDirectory(prefix="balltrack-") as folder:
        path = Path(folder, PurePosixPath(name).name)
        with storage(address) as (system, root):
            before = _version(f"{root}/{name}", _fresh_info(system, f"{root}/{name}"))
            system.get_file(f"{root}/{name}", str(path))
            after = _version(f"{root}/{name}", _fresh_info(system, f"{root}/{name}"))
        yield path, before if before == after else ""


def stub_words(stored: Stored) -> str:
    """What stands in the mirror for a film."""
    return f"{STANDS_FOR}{stored.name}{VERSION}{stored.version}\n"


def stub_version(path: Path) -> str:
    """The version that such a stub stands for; empty where the file is a film, or none can be read."""
    try:
        with path.open("rb") as file:
            words = file.read(LONGEST_STUB).decode("utf-8")
    except (OSError, UnicodeDecodeError):
        return ""
    return words.rpartition(VERSION)[2].strip() if words.startswith(STANDS_FOR) and VERSION in words else ""


def put_file(place: str, name: str, content: bytes) -> None:
    """Write a file whole into a folder or at an address. Raises RecordError or StorageError."""
    from balltrack.records.atomic import write_atomic

    if not is_address(place):
        write_atomic(Path(place, name), content)
        return
    with storage(place) as (system, root):
        system.pipe_file(f"{root}/{name}", content)


def _fresh_info(system: Any, path: str) -> dict[str, Any]:
    system.invalidate_cache(path.rpartition("/")[0])
    return dict(system.info(path))


def _stored(name: str, path: str, info: dict[str, Any]) -> Stored:
    changed = info.get("LastModified") or info.get("mtime") or info.get("created") or 0.0
    seconds = changed.timestamp() if isinstance(changed, datetime) else float(changed)
    return Stored(name, int(info.get("size") or 0), _version(path, info), seconds)


def _version(path: str, info: dict[str, Any]) -> str:
    """Of what the storage tells of an object, that which changes with it; its date alone is the least of it."""
    told = {key: str(info[key]) for key in ("ETag", "etag", "md5Hash", "content_md5") if info.get(key)}
    told = told or {key: str(info[key]) for key in ("mtime", "LastModified", "created") if info.get(key)}
    return hashlib.sha256(repr((path.rpartition("/")[2], info.get("size"), told)).encode()).hexdigest()[:32]


def _belongs(name: str) -> bool:
    top, _, rest = name.partition("/")
    return (top in OWN_FOLDERS and bool(rest)) or (not rest and top.endswith(".toml"))


def _is_film(name: str) -> bool:
    return PurePosixPath(name).suffix.lower() in CLIP_SUFFIXES


def _is_under(name: str, folder: str) -> bool:
    return name.startswith(folder + "/") or name.startswith(folder + ".")


def _results(folder: Path) -> list[str]:
    """Files of the results but for films, which measuring does not make."""
    files = sorted(path for path in (folder / "results").rglob("*") if path.is_file())
    return [name for path in files if not _is_film(name := path.relative_to(folder).as_posix())]


def _hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
