"""Every value of a TOML text is found on its line."""

from balltrack.lesson.toml_lines import line_of, value_lines

TEXT = '''# a comment with [brackets] and = signs
name = "a # no comment"

[ball]  # table
kind = 'x = [1]'
[camera]
size = [
  1920,  # first
  1080,
]
[[camera.marks]]
point = "a\\"b"
pixel = [1.5,
  2.5]
[[camera.marks]]
at = { x = 1, y = 2 }
note = """
[[camera.marks]]
"quoted" """
last = 4
[blocks."01-tee.x"]
reps = 10
dotted.key = 3
'''


def test_each_value_is_on_the_line_that_a_person_counts() -> None:
    lines = value_lines(TEXT)
    expected = {  # counted by hand in TEXT
        ("name",): 2,
        ("ball",): 4,
        ("ball", "kind"): 5,
        ("camera", "size"): 7,
        ("camera", "size", 0): 8,
        ("camera", "size", 1): 9,
        ("camera", "marks"): 11,
        ("camera", "marks", 0): 11,
        ("camera", "marks", 0, "point"): 12,
        ("camera", "marks", 0, "pixel", 1): 14,
        ("camera", "marks", 1): 15,
        ("camera", "marks", 1, "at", "y"): 16,
        ("camera", "marks", 1, "last"): 20,
        ("blocks", "01-tee.x"): 21,
        ("blocks", "01-tee.x", "reps"): 22,
        ("blocks", "01-tee.x", "dotted", "key"): 23,
    }
    assert {path: lines[path] for path in expected} == expected


def test_a_missing_value_is_put_on_the_line_of_what_should_hold_it() -> None:
    lines = value_lines(TEXT)
    assert line_of(lines, ("camera", "marks", 1, "pixel")) == 15
    assert line_of(lines, ("player", "name")) is None


def test_windows_line_ends_count_the_same() -> None:
    assert value_lines(TEXT.replace("\n", "\r\n")) == value_lines(TEXT)
