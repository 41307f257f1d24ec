"""A recording of a whole lesson, cut into one clip a swing."""

from balltrack.recording.split import Split, split_recording

__all__ = ["Split", "split_recording"]
