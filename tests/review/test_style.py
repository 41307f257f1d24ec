"""Pictures read in black and white and to colour-blind eyes, and their files are whole, steady and safe."""

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from balltrack.lesson import load_lesson
from balltrack.review.spray_chart import draw_spray_chart
from balltrack.review.style import FILLS, INK, MARKERS, PAPER, SOFT, TINT, chart_png, chart_svg, looks_of
from balltrack.units import Floats
from tests.lesson.lessons import GOOD, make_lesson
from tests.records.swings import HIT

# What eyes without one kind of cone see, on linear light. Source: Machado, Oliveira & Fernandes, IEEE Trans. Vis.
# Comput. Graph. 15 (2009) 1291, severity 1.0 (from memory; each row sums to 1, so that grey stays grey).
EYES = {
    "all cones": np.eye(3),
    "no long cone": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle cone": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no short cone": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of linear sRGB, ITU-R BT.709


def linear(colour: str) -> Floats:
    """sRGB undone. Source: IEC 61966-2-1."""
    shade = np.array(to_rgb(colour))
    return np.where(shade <= 0.04045, shade / 12.92, ((shade + 0.055) / 1.055) ** 2.4)


def contrast(a: str, b: str, eye: Floats) -> float:
    """Contrast ratio of WCAG 2, 1 to 21."""
    low, high = sorted(float(LUMINANCE @ np.clip(eye @ linear(each), 0, 1)) for each in (a, b))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("eye", EYES)
def test_neighbouring_blocks_differ_in_lightness_whatever_the_eye(eye: str) -> None:
    for fill, following in pairwise(FILLS):
        # Tells two patches apart in grey print (judgement; WCAG asks 3 of marks on their ground).
        assert contrast(fill, following, EYES[eye]) > 1.5, (fill, following)


@pytest.mark.parametrize("ground", [PAPER, TINT, "#e9f0e3", "#f6ecd9"])  # the last two: grass and dirt
def test_words_have_the_contrast_that_small_type_needs(ground: str) -> None:
    for eye in EYES.values():
        assert contrast(INK, ground, eye) > 7
        assert contrast(SOFT, ground, eye) > 4.5  # WCAG 2, level AA


def test_sixteen_blocks_all_look_different(tmp_path: Path) -> None:
    clips = tuple(f"{i:02d}-block/001.mp4" for i in range(16))
    looks = looks_of(load_lesson(make_lesson(tmp_path, GOOD.replace('"01-tee"', '"00-block"'), clips)), ())
    assert len({(look.marker, look.fill) for look in looks.values()}) == 16
    assert [look.marker for look in looks.values()][:8] == list(MARKERS)


def test_a_block_whose_clips_are_gone_is_still_drawn(tmp_path: Path) -> None:
    lesson = load_lesson(make_lesson(tmp_path))
    looks = looks_of(lesson, (replace(HIT, block="09-gone"),))
    assert [look.title for look in looks.values()] == ["Tee, middle", "09-gone"]


@pytest.mark.parametrize("name", ["a $x$ _{b} <&> O'Neill", "山田 花子", "Zoë Müller"])  # 山田 花子: not in the font
def test_a_name_is_shown_as_typed_in_every_file(tmp_path: Path, name: str) -> None:
    lesson = load_lesson(make_lesson(tmp_path, GOOD.replace("Robin Example", name)))
    figure = draw_spray_chart(lesson, (HIT,), "us")
    svg = chart_svg(figure)
    shown = svg.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&").replace("&#39;", "'")
    assert name in shown
    assert chart_png(figure).startswith(b"\x89PNG")


def test_the_same_chart_makes_the_same_bytes_and_names_only_what_is_referred_to(tmp_path: Path) -> None:
    lesson = load_lesson(make_lesson(tmp_path))
    first, second = (draw_spray_chart(lesson, (HIT,), "us") for _ in range(2))
    assert chart_svg(first) == chart_svg(second)
    assert chart_png(first) == chart_png(second)
    svg = chart_svg(first)
    used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg))
    assert set(re.findall(r' id="([^"]*)"', svg)) == used | {"ball-1"}
