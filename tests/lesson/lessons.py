"""A lesson folder made of one good text, for tests to spoil."""

from pathlib import Path

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
horizontal_fov_deg = 62.0
readout_ms = 12.0
[[camera.marks]]
point = "plate_tip"
pixel = [960.0, 800.5]
[[camera.marks]]
point = "plate_left"
pixel = [930.0, 780]
[[camera.marks]]
at_m = [0.0, 5.0, 0.0]
pixel = [955.0, 600.0]
[[camera.marks]]
point = "second_base_center"
pixel = [950.0, 540.0]
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
