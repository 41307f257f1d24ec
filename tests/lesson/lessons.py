"""A lesson folder made of one good text, for tests to spoil."""

from pathlib import Path

# Marks of a level pinhole camera of 1600 px focal length, 6 m behind the plate's tip and 1.5 m up, looking along y, in
# a picture of 1920 x 1080: u = 959.5 + 1600 x / (y + 6), v = 539.5 + 1600 (1.5 - z) / (y + 6). By hand, to 0.1 px.
GOOD = """\
[player]
name = "Robin Example"
bats = "right"
[ball]
kind = "softball-12"
[air]
temperature_c = 20
[field]
base_path_ft = 65
fence_ft = 275
fence_height_ft = 6
[camera]
horizontal_fov_deg = 61.93
readout_ms = 12.0
[[camera.marks]]
point = "plate_tip"
pixel = [959.5, 939.5]
[[camera.marks]]
point = "plate_left"
pixel = [903.9, 925.6]
[[camera.marks]]
at_m = [0.0, 5.0, 0.0]
pixel = [959.5, 757.7]
[[camera.marks]]
point = "second_base_center"
pixel = [959.5, 610.1]
[[camera.marks]]
point = "plate_right"
pixel = [1015.1, 925.6]
[[camera.marks]]
at_m = [2.0, 4.0, 0.0]
pixel = [1279.5, 779.5]
[[camera.marks]]
at_m = [-2.0, 4.0, 0.0]
pixel = [639.5, 779.5]
[blocks."01-tee"]
title = "Tee, middle"
delivery = "tee"
reps = 10
"""


def make_lesson(folder: Path, text: str | bytes = GOOD, clips: tuple[str, ...] = ("01-tee/001.mp4",)) -> Path:
    """Write lesson.toml and empty clips."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "lesson.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
    for clip in clips:
        path = folder / "clips" / clip
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    return folder
