"""Measure batted balls from one fixed camera: exit speed, launch angle, direction, each with its uncertainty."""

__version__ = "0.1.0"
