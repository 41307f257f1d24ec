"""Set up, asked as the page's script asks it: the form, clips coming in, blocks, measuring, the review."""

import shutil
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from balltrack.lesson.edit import version
from tests.desk.served import asking

SAMPLE = Path(__file__).parents[2] / "sample_clips" / "clips" / "01-tee" / "swing-01.mp4"
JSON = {"accept": "application/json"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "lesson").mkdir()
    return tmp_path / "lesson"


@pytest.fixture
def page(folder: Path) -> Iterator[httpx.Client]:
    with asking(folder) as client:
        client.headers.update(JSON)
        yield client


def put(page: httpx.Client, path: str, data: bytes) -> httpx.Response:
    return page.put(path, content=data)


def first(section: str, **texts: str) -> dict[str, object]:
    """A section of the form, typed while lesson.toml had no such section."""
    return {"section": [section], "version": version("", (section,)), "texts": texts}


def test_an_empty_folder_has_a_page(page: httpx.Client) -> None:
    answer = page.get("setup")
    assert answer.status_code == 200
    assert "Drop videos" in answer.text
    assert "<style" not in answer.text and "style=" not in answer.text and "onclick" not in answer.text


def test_typed_numbers_are_stored_as_numbers(page: httpx.Client, folder: Path) -> None:
    change = first("field", base_path_ft="65", fence_ft="200, 210 220; 210, 200.5", fence_height_ft="")
    assert page.put("settings", json={"changes": [change]}).status_code == 200
    text = (folder / "lesson.toml").read_text()
    assert text == "[field]\nbase_path_ft = 65\nfence_ft = [200, 210, 220, 210, 200.5]\n"


def test_a_wrong_form_is_refused_whole(page: httpx.Client, folder: Path) -> None:
    good, wrong = first("player", name="Robin", bats="left"), first("field", base_path_ft="long")
    answer = page.put("settings", json={"changes": [good, wrong]})
    assert answer.status_code == 422
    assert answer.json()["error"].startswith('field.base_path_ft = "long" is not allowed; give feet')
    assert not (folder / "lesson.toml").exists()


def test_a_stale_form_is_refused_with_words(page: httpx.Client, folder: Path) -> None:
    for name, status in (("Robin", 200), ("Kim", 409)):
        answer = page.put("settings", json={"changes": [first("player", name=name, bats="left")]})
        assert answer.status_code == status
    assert "changed elsewhere" in answer.json()["error"]
    assert "Robin" in (folder / "lesson.toml").read_text()


@pytest.mark.parametrize("body", [b"", b"[]", b'{"changes": [{"section": ["camera"], "version": "", "texts": {}}]}'])
def test_what_the_form_cannot_have_sent_is_refused_in_one_line(page: httpx.Client, body: bytes) -> None:
    answer = page.put("settings", content=body)
    assert answer.status_code == 422
    assert "load" in answer.json()["error"]


def test_a_clip_is_taken_in_whole(page: httpx.Client, folder: Path) -> None:
    assert put(page, "clips/01-tee/a%20swing.mp4", SAMPLE.read_bytes()).status_code == 200
    assert (folder / "clips" / "01-tee" / "a swing.mp4").read_bytes() == SAMPLE.read_bytes()
    listed = page.get("setup").text
    assert "a swing.mp4" in listed
    assert "1920 × 1080" in listed
    assert "60 frames/s" in listed


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("clips/01-tee/notes.txt", "is not a clip"),
        ("clips/01-tee/text.mp4", "text.mp4"),  # not a video
        ("clips/..%2F..%2Fout/a.mp4", "no name for a file|takes in a name|no such|Not Found"),
        ("clips/%2e%2e/a.mp4", "no name for a file|Not Found"),
        ("clips/01-tee/..%5Ca.mp4", "no name for a file"),
        ("clips/01-tee/a%00b.mp4", "takes in a name"),
        ("clips/01-tee/.a.mp4", "no name for a file"),
        ("clips/01-tee/a.hand.mp4", "without .hand"),
    ],
)
def test_what_is_no_clip_or_no_name_is_refused_and_leaves_nothing(
    page: httpx.Client, folder: Path, path: str, words: str
) -> None:
    answer = put(page, path, b"just words")
    assert answer.status_code in (404, 422)
    assert [each for each in folder.parent.rglob("*") if each.is_file()] == []
    if answer.status_code == 422:
        assert any(word in answer.json()["error"] for word in words.split("|"))


def test_a_clip_of_the_same_name_is_not_overwritten(page: httpx.Client, folder: Path) -> None:
    old = folder / "clips" / "01-tee" / "one.mov"
    old.parent.mkdir(parents=True)
    old.write_bytes(b"old")
    answer = put(page, "clips/01-tee/one.mp4", SAMPLE.read_bytes())  # its results would have the same name
    assert answer.status_code == 422
    assert "already" in answer.json()["error"]
    assert [path.name for path in old.parent.iterdir()] == ["one.mov"]


def test_a_clip_that_is_said_to_be_too_large_is_refused_before_it_is_sent(page: httpx.Client, folder: Path) -> None:
    # By hand: a client that sends what it announced would have to send 9 GB.
    with socket.create_connection((page.base_url.host, page.base_url.port or 0), timeout=20) as line:
        head = (
            f"PUT {page.base_url.path}clips/a/b.mp4 HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 9000000000\r\n\r\n"
        )
        line.sendall(head.encode())
        assert b" 422 " in line.recv(4096).split(b"\r\n")[0]
    assert not list(folder.rglob("*.mp4"))


def test_a_clip_cut_off_on_its_way_leaves_nothing(page: httpx.Client, folder: Path) -> None:
    with socket.create_connection((page.base_url.host, page.base_url.port or 0), timeout=20) as line:
        head = f"PUT {page.base_url.path}clips/a/b.mp4 HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5000\r\n\r\n"
        line.sendall(head.encode() + b"0" * 1000)
    waited_until = time.monotonic() + 20
    while list(folder.rglob("*.mp4")) and time.monotonic() < waited_until:
        time.sleep(0.05)
    assert not list(folder.rglob("*.mp4"))


def test_loose_clips_are_moved_into_a_block(page: httpx.Client, folder: Path) -> None:
    shutil.copy(SAMPLE, folder / "one.mp4")
    (folder / "clips").mkdir()
    shutil.copy(SAMPLE, folder / "clips" / "two.mp4")
    assert "2 clips lie loose" in page.get("setup").text
    assert page.post("blocks", json={"name": "01-tee", "adopt": True}).json() == {"moved": 2}
    assert sorted(path.name for path in (folder / "clips" / "01-tee").iterdir()) == ["one.mp4", "two.mp4"]


def test_a_block_outside_the_folder_is_refused(page: httpx.Client, folder: Path) -> None:
    for name in ("../out", "..", "", "a/b", "/tmp/out"):
        assert page.post("blocks", json={"name": name}).status_code == 422
    assert not (folder.parent / "out").exists()


def test_clips_behind_a_link_out_of_the_folder_are_not_shown(page: httpx.Client, folder: Path) -> None:
    away = folder.parent / f"{folder.name}-away"
    away.mkdir()
    shutil.copy(SAMPLE, away / "secret.mp4")
    (folder / "clips").mkdir()
    (folder / "clips" / "01-tee").symlink_to(away)
    (folder / "loose.mp4").symlink_to(away / "secret.mp4")
    shown = page.get("setup")
    assert shown.status_code == 200
    assert "secret.mp4" not in shown.text
    assert "loose.mp4" not in shown.text
    assert put(page, "clips/01-tee/new.mp4", SAMPLE.read_bytes()).status_code == 422
    assert [path.name for path in away.iterdir()] == ["secret.mp4"]


def test_warnings_come_in_words(page: httpx.Client, folder: Path) -> None:
    (folder / "clips" / "01-tee").mkdir(parents=True)
    (folder / "clips" / "01-tee" / "empty.mp4").touch()
    assert "cannot be measured" in page.get("setup").text


def test_the_review_is_served_read_only_and_its_neighbours_are_not(page: httpx.Client, folder: Path) -> None:
    review = folder / "results" / "review"
    review.mkdir(parents=True)
    (review / "index.html").write_text("<h1>Robin</h1>")
    (folder / "secret.txt").write_text("secret")
    (review / "out.txt").symlink_to(folder / "secret.txt")
    answer = page.get("review/")
    assert "Robin" in answer.text
    assert "script-src" not in answer.headers["content-security-policy"]  # default-src 'none' holds: no script at all
    assert page.put("review/index.html").status_code == 405
    for path in ("review/out.txt", "review/%2e%2e/%2e%2e/secret.txt", "review/..%2F..%2Fsecret.txt"):
        assert "secret" not in page.get(path).text.replace("secret.txt", "")


def test_measuring_tells_in_one_line_why_it_cannot(page: httpx.Client) -> None:
    assert page.get("measure").json()["state"] == "idle"
    now = page.post("measure").json()
    assert now["state"] == "failed"
    assert "lesson.toml is missing" in now["words"]
    assert "\n" not in now["words"]


@pytest.fixture
def one_clip(folder: Path) -> Path:
    """A lesson ready to be measured, with one clip."""
    (folder / "clips" / "01-tee").mkdir(parents=True)
    shutil.copy(SAMPLE, folder / "clips" / "01-tee" / "one.mp4")
    shutil.copy(SAMPLE.parents[2] / "lesson.toml", folder)
    return folder


def until_ended(page: httpx.Client) -> dict[str, object]:
    """What the job says once it has ended; a process takes seconds to start, minutes on overloaded cores."""
    patience_until = time.monotonic() + 400
    while (now := page.get("measure").json())["state"] in ("running", "stopping") and time.monotonic() < patience_until:
        time.sleep(0.1)
    return dict(now)


def test_a_lesson_is_measured_in_the_background_and_its_review_shown(one_clip: Path, page: httpx.Client) -> None:
    assert page.post("measure").json()["state"] == "running"
    assert page.post("measure").json()["state"] == "running"  # a second click begins nothing
    ended = until_ended(page)
    assert [ended["state"], ended["done"], ended["total"]] == ["done", 1, 1]
    assert ended["words"] == "1 of 1 swings measured or seen as a miss."
    assert "Robin Example" in page.get("review/").text


def test_measuring_can_be_stopped(one_clip: Path, page: httpx.Client) -> None:
    page.post("measure")
    assert page.delete("measure").json()["state"] == "stopping"
    assert until_ended(page)["state"] == "stopped"
