"""The desk page answers to this machine, with the token, for files of the lesson folder, and to nothing else."""

from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from balltrack.desk.guard import host_name, inside
from balltrack.desk.serve import listening
from balltrack.errors import LessonError
from tests.desk.served import TOKEN, asking

STYLES = "static/desk.css"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    with asking(tmp_path_factory.mktemp("lesson")) as client:
        yield client


@pytest.mark.parametrize("path", ["/", "/setup", "/wrong/static/desk.css", f"/{TOKEN}x/", "//", f"/{TOKEN[:-1]}/"])
def test_a_wrong_token_is_refused(page: httpx.Client, path: str) -> None:
    assert page.get(page.base_url.copy_with(path=path)).status_code == 404


@pytest.mark.parametrize(
    "host", ["example.org", "127.0.0.1.example.org:80", "192.0.2.7", "localhost.example.org", "[", ""]
)
def test_another_host_name_is_refused_even_with_the_token(page: httpx.Client, host: str) -> None:
    assert page.get(STYLES, headers={"host": host}).status_code in (400, 403)


@pytest.mark.parametrize("host", ["127.0.0.1:8123", "localhost:8123", "[::1]:8123"])
def test_this_machines_own_names_are_answered(page: httpx.Client, host: str) -> None:
    assert page.get(STYLES, headers={"host": host}).status_code == 200


@pytest.mark.parametrize("origin", ["http://example.org", "null", "http://127.0.0.1:9", "https://127.0.0.1"])
def test_a_change_sent_by_another_page_is_refused(page: httpx.Client, origin: str) -> None:
    assert page.post("settings", headers={"origin": origin}, json={}).status_code == 403


@pytest.mark.parametrize("path", [STYLES, "/wrong"])
def test_every_answer_forbids_foreign_and_inline_scripts(page: httpx.Client, path: str) -> None:
    policy = page.get(path).headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy


def test_the_address_with_its_token_is_not_handed_on(page: httpx.Client) -> None:
    answer = page.get(STYLES)
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["cache-control"] == "no-store"


def test_the_page_listens_on_this_machine_only() -> None:
    with listening(0) as ear:
        assert ear.getsockname()[0] == "127.0.0.1"


def test_a_port_that_is_taken_is_one_clear_line() -> None:
    with listening(0) as ear, pytest.raises(LessonError, match=r"port \d+ cannot be used: .*--port"):
        listening(ear.getsockname()[1])


@pytest.mark.parametrize(
    "part", ["../secret.txt", "clips/../../secret.txt", "..\\secret.txt", "/etc/passwd", "a\0b", "clips/out/secret.txt"]
)
def test_nothing_outside_the_folder_has_a_path(tmp_path: Path, part: str) -> None:
    folder = tmp_path / "lesson"
    (folder / "clips").mkdir(parents=True)
    (tmp_path / "secret.txt").write_text("secret")
    (folder / "clips" / "out").symlink_to(tmp_path)
    with pytest.raises(LessonError, match=r"leads out of|no name of a file"):
        inside(folder, part)


def test_a_link_within_the_folder_is_followed(tmp_path: Path) -> None:
    (tmp_path / "one.mp4").write_text("1")
    (tmp_path / "two.mp4").symlink_to(tmp_path / "one.mp4")
    assert inside(tmp_path, "two.mp4").read_text() == "1"


@pytest.mark.parametrize("path", ["%2e%2e/app.py", "..%2f..%2fcli.py", "%2fetc%2fpasswd", "../app.py"])
def test_static_files_are_those_of_the_page_only(page: httpx.Client, path: str) -> None:
    assert page.get(f"static/{path}").status_code == 404


def test_odd_host_headers_name_nobody() -> None:
    assert host_name("[") == ""
    assert host_name("") == ""
