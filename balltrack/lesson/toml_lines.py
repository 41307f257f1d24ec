"""On which line of a TOML text each value stands, so that a wrong one can be pointed at.

Python's own reader (tomllib) forgets lines. This scanner keeps nothing else: it expects a text that tomllib has
already accepted, and so needs no checks of its own.
"""

import bisect
import re
import tomllib

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def value_lines(text: str) -> dict[Path, int]:
    """Map each key, table and list item of a valid TOML text to its line, counted from 1.

    Paths are as in the parsed document: ``("camera", "marks", 2, "pixel", 0)``.
    """
    return _Scanner(text).document()


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """Line of a value, else of the nearest thing around it; None where not even its table is written."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text.replace("\r\n", "\n")
        self.ends = [place for place, letter in enumerate(self.text) if letter == "\n"]
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}  # arrays of tables: how many so far

    def document(self) -> dict[Path, int]:
        table: Path = ()
        while self._skip_blank():
            if self.text.startswith("[[", self.at):
                self.at += 2
                path = self._resolve(self._key())
                self.tables[path] = self.tables.get(path, -1) + 1
                self.lines.setdefault(path, self._line())
                table = (*path, self.tables[path])
                self.lines[table] = self._line()
                self._skip_line()
            elif self._peek() == "[":
                self.at += 1
                table = self._resolve(self._key())
                self._mark(table)
                self._skip_line()
            else:
                self._pair(table)
        return self.lines

    def _pair(self, table: Path) -> None:
        path = (*table, *self._key())
        self._mark(path)
        self._skip_blank()
        self.at += 1  # the equals sign
        self._skip_blank()
        self._value(path)

    def _value(self, path: Path) -> None:
        self.lines[path] = self._line()
        if self._peek() in "\"'":
            self._string()
        elif self._peek() == "[":
            self.at += 1
            index = 0
            while self._skip_blank(",") and self._peek() != "]":
                self._value((*path, index))
                index += 1
            self.at += 1
        elif self._peek() == "{":
            self.at += 1
            while self._skip_blank(",") and self._peek() != "}":
                self._pair(path)
            self.at += 1
        else:
            while self._peek() not in ",]}#\n":
                self.at += 1

    def _key(self) -> tuple[str, ...]:
        """Read a dotted key up to ``=`` or ``]``; tomllib undoes quotes and escapes."""
        start = self.at
        while self._peek() not in "=]":
            if self._peek() in "\"'":
                self._string()
            else:
                self.at += 1
        words = self.text[start : self.at].strip()
        if _BARE.fullmatch(words):
            return (words,)
        found: object = tomllib.loads(f"{words} = 0")
        parts: list[str] = []
        while isinstance(found, dict):
            name, found = next(iter(found.items()))
            parts.append(name)
        return tuple(parts)

    def _string(self) -> None:
        quote = self.text[self.at]
        mark = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.at += len(mark)
        while not self.text.startswith(mark, self.at):
            self.at += 2 if quote == '"' and self._peek() == "\\" else 1
        self.at += len(mark)
        while len(mark) == 3 and self._peek() == quote:  # up to two quotes may stand before the closing three
            self.at += 1

    def _resolve(self, key: tuple[str, ...]) -> Path:
        """Put the newest item's number behind each array of tables that leads to ``key``."""
        path: Path = ()
        for part in key[:-1]:
            path = (*path, part)
            if path in self.tables:
                path = (*path, self.tables[path])
        return (*path, key[-1])

    def _mark(self, path: Path) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], self._line())

    def _line(self) -> int:
        return bisect.bisect_left(self.ends, self.at) + 1

    def _peek(self) -> str:
        return self.text[self.at : self.at + 1] or "\n"

    def _skip_line(self) -> None:
        while self.at < len(self.text) and self._peek() != "\n":
            self.at += 1

    def _skip_blank(self, also: str = "") -> bool:
        """Step over spaces, new lines and comments; False at the end of the text."""
        while self.at < len(self.text):
            if self._peek() == "#":
                self._skip_line()
            elif self._peek() in " \t\r\n" + also:
                self.at += 1
            else:
                return True
        return False
