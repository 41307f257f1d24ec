"""Everything that can go wrong for a person, under one base.

MeasureError            one clear line: what is wrong, the number, what to do
├── LessonError         lesson.toml or the lesson folder
│   └── EditConflict    lesson.toml was changed elsewhere since it was read
├── VideoError          a clip that cannot be read
│   ├── ClipPassing     trouble of the moment, not of the clip: it was replaced while it was measured, or took too long
│   └── CameraMoved     the phone stood elsewhere than when the field was marked; with the picture that shows it
├── CalibrationError    the marks do not give a camera
├── PlanError           no safe place from which the hits can be measured, or a plan that cannot be written
├── DetectorError       detector weights that cannot be used, trained or judged
├── TrackError          no ball could be followed
│   └── PitchWentOn     the pitched ball flew on: a swing and miss
├── FlightError         a track that no flight explains
│   └── TooFewFrames    the ball was followed in too few frames for one
├── RecordError         results that cannot be read or written
├── StorageError        shared storage that cannot be reached, read or written
├── ClusterError        a cluster that cannot be used
└── LogbookError        the logbook: a database that cannot be used, a player who is not in it

ShapeError is for programmers: an array of the wrong shape (a ValueError, never shown to a coach).
"""


class MeasureError(Exception):
    """Base of all errors that a person can put right."""


class LessonError(MeasureError):
    """The lesson folder or its lesson.toml is wrong."""


class EditConflict(LessonError):
    """What is to be changed in lesson.toml was changed elsewhere since it was read."""


class VideoError(MeasureError):
    """A clip cannot be read."""


class ClipPassing(VideoError):
    """What went wrong may go right next time with the very same clip."""


class CameraMoved(VideoError):
    """The phone was turned too far since the field was marked."""

    def __init__(self, words: str, picture_jpeg: bytes) -> None:
        """``picture_jpeg`` is the file of a picture that shows it."""
        super().__init__(words)
        self.picture_jpeg = picture_jpeg

    def __reduce__(self) -> tuple[type["CameraMoved"], tuple[str, bytes]]:
        return CameraMoved, (str(self), self.picture_jpeg)  # it comes from another process


class CalibrationError(MeasureError):
    """The marks do not give a camera."""


class PlanError(MeasureError):
    """There is no place to recommend, or the plan cannot be written."""


class DetectorError(MeasureError):
    """Detector weights cannot be used, trained or judged."""


class TrackError(MeasureError):
    """No ball could be followed."""


class PitchWentOn(TrackError):
    """The pitched ball flew on past the batter: a swing and miss."""


class FlightError(MeasureError):
    """No flight explains the track."""


class TooFewFrames(FlightError):
    """The ball was followed in too few frames to tell a flight."""


class RecordError(MeasureError):
    """Results cannot be read or written."""


class StorageError(MeasureError):
    """Shared storage cannot be reached, read or written."""


class ClusterError(MeasureError):
    """The cluster cannot be used."""


class LogbookError(MeasureError):
    """The logbook cannot be used, or has no such player or lesson."""


class ShapeError(ValueError):
    """An array has the wrong shape."""
