"""lesson.toml and the lesson folder."""

from balltrack.lesson.folder import Clip, Delivery
from balltrack.lesson.load import Block, Lesson, Player, check_pixels, load_lesson
from balltrack.lesson.tee import tee_base_m
from balltrack.lesson.words import Drill, Words

__all__ = [
    "Block",
    "Clip",
    "Delivery",
    "Drill",
    "Lesson",
    "Player",
    "Words",
    "check_pixels",
    "load_lesson",
    "tee_base_m",
]
