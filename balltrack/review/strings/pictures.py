"""What is written on films and stills, and the words for who does not see them."""

from collections.abc import Mapping
from types import MappingProxyType

PICTURES: Mapping[str, str] = MappingProxyType(
    {
        # On films.
        "swing_head": "Swing {number}  ·  {block}",
        "swing_angles": "Launch {launch}°    Direction {direction}°",
        "swing_poor": "uncertain: poor quality",
        "dotted": "Dotted: calculated, not seen",
        "slow": "Slow motion: {speed} speed",
        "slow_clock": "{time}   ·   slow motion: {speed} speed",
        "clock_at": "contact",
        "clock_before": "{seconds} s before contact",
        "clock_after": "{seconds} s after contact",
        # When a still was taken.
        "when_at": "at contact",
        "when_before": "{ms} ms before contact",
        "when_after": "{ms} ms after contact",
        # Stills at contact.
        "contact_still": "Swing {number} at contact. {depth}",
        "contact_still_head": "Swing {number}  ·  {block}  ·  picture {when}",
        "met_unknown": "Where the ball was met is not known.",
        "met_ahead": "Ball met {depth} ±{off} {unit} ahead of the plate's front edge",
        "met_behind": "Ball met {depth} ±{off} {unit} behind the plate's front edge",
        "front_edge": "front edge",
        # Stills of two swings at the same times.
        "strip": "Stills of swing {first} above those of swing {second}, at the same times: from {before} ms before "
        "contact to {after} ms after it. The still nearest to contact is framed.",
        "strip_head": "Swing {number}  ·  {block}  ·  {told}",
        "strip_contact": "contact {time}",
        "not_filmed": "not filmed",
        # Stills on which the coach drew.
        "drawn_still": "Swing {number}, {when}.",
        "drawn_words": "The coach wrote: {words}.",
        "drawn_marks": "Drawn on it: {marks}.",
        "drawn_line": "{count} line | {count} lines",
        "drawn_arrow": "{count} arrow | {count} arrows",
    }
)
