"""The picture of a moved phone, read back from its file."""

import cv2
import numpy as np

from balltrack.camera.model import Camera
from balltrack.camera.moved import moved_jpeg

WIDTH, HEIGHT, FOCAL_PX = 1280, 720, 1000.0
# Straight behind the plate: 5 m back of its tip, 1.5 m up, level. A place on the ground is seen at
# u = 639.5 + 1000 x / (y + 5), v = 359.5 + 1000 * 1.5 / (y + 5), by similar triangles.
LEVEL = np.array([np.pi / 2, 0.0, 0.0])
BEHIND = Camera(
    np.array([*LEVEL, 0.0, -5.0, 1.5, FOCAL_PX, 0.0, (WIDTH - 1) / 2, (HEIGHT - 1) / 2, 0.0]),
    np.zeros((11, 11)),
    (WIDTH, HEIGHT),
)


def test_the_plate_is_drawn_where_the_marks_have_it() -> None:
    file = moved_jpeg(np.full((HEIGHT, WIDTH), 90, np.uint8), BEHIND, "softball-12")
    picture = cv2.imdecode(np.frombuffer(file, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    assert picture.shape == (HEIGHT, WIDTH, 3)
    coloured = picture.max(axis=2).astype(int) - picture.min(axis=2) > 60  # what is drawn; the rest is grey
    tip = (round(639.5), round(359.5 + 1000 * 1.5 / 5.0))
    depth_m, half_m = 17 * 0.0254, 8.5 * 0.0254  # the front edge: 17 in ahead of the tip and as wide
    front = (round(639.5 + 1000 * half_m / (depth_m + 5)), round(359.5 + 1000 * 1.5 / (depth_m + 5)))
    for u, v in (tip, front):
        assert coloured[v - 3 : v + 4, u - 3 : u + 4].any()
    assert not coloured[: HEIGHT // 2].any()  # nothing of the ground is seen above the horizon
