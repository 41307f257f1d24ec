"""lesson.toml and the lesson folder."""

from balltrack.lesson.folder import Clip, Delivery
from balltrack.lesson.load import Block, Lesson, Player, check_pixels, load_lesson
from balltrack.lesson.tee import tee_base_m

__all__ = ["Block", "Clip", "Delivery", "Lesson", "Player", "check_pixels", "load_lesson", "tee_base_m"]
