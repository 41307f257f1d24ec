"""Every sentence of the take-home page that is not made from numbers: one table, so that a language is one more table.

A word in %s or %d is filled in by the page. What is made from numbers has its words beside the arithmetic:
``records/wording.py``, the charts, the statistics.
"""

from collections.abc import Mapping
from types import MappingProxyType

ENGLISH: Mapping[str, str] = MappingProxyType(
    {
        "language": "en",
        "title": "%s: batting lesson",
        "lesson": "Batting lesson",
        "months": "January February March April May June July August September October November December",
        "bats_right": "bats right",
        "bats_left": "bats left",
        "swings": "Swings",
        "measured": "Measured",
        "misses": "Missed the ball",
        "not_measured": "Not measured",
        "excluded": "Left out",
        "exit_speed_typical": "Exit speed, typical",
        "exit_speed_best": "Exit speed, best",
        "carry_best": "Carry, longest",
        "glossary": "Exit speed is how fast the ball leaves the bat, launch how steeply it rises, carry how far it "
        "flies before it comes down. Typical: half of the swings lie above it, half below.",
        "takeaways": "To take home",
        "from_swing": "swing",
        "from_swings": "swings",
        "coach": "From your coach",
        "drawn": "Your coach's pictures",
        "plan": "What to practise",
        "caution": "Mind:",
        "drill_care": "Warm up first, keep people out of the ball's and the bat's way, and stop at pain, dizziness or "
        "tiredness. The coach's judgement and a doctor's or therapist's advice come before anything written here.",
        "where": "Where the balls went",
        "side_pull": "To the pull side",
        "side_middle": "To the middle",
        "side_opposite": "To the opposite field",
        "kind_ground_ball": "Ground balls",
        "kind_line_drive": "Line drives",
        "kind_fly_ball": "Fly balls",
        "kind_pop_up": "Pop-ups",
        "how_hard": "How hard, how high",
        "hard_words": "Hit hard",
        "well_hit_words": "Well hit",
        "hard_under": "Hard: nearly as fast as this player's own fastest. Well hit: hard, fair, and neither into the "
        "ground nor too high.",
        "met": "Where bat met ball",
        "timing_early": "Early",
        "timing_on_time": "On time",
        "timing_late": "Late",
        "timing_jammed": "Jammed",
        "timing_not_clear": "Too close to tell",
        "timing_under": "By the usual zones over the plate. Tee balls do not count here; an outside pitch is met "
        "deeper on purpose.",
        "over": "Over the fence",
        "flights": "The flights from the side",
        "over_words": "Would clear the fence",
        "over_under": "The chances in the table below, added up.",
        "change": "Did it change?",
        "change_under": "A difference counts as one only where chance and the measurement's own error do not explain "
        "it. A range after “likely” holds nine in ten.",
        "too_few": "Too few swings to tell:",
        "blocks": "Block by block",
        "blocks_under": "Typical: half of the swings lie above it, half below.",
        "block": "Block",
        "out_of": "of",
        "to": "to",
        "whole": "Whole lesson",
        "typical": "typical, %s",
        "best": "best, %s",
        "exit_speed": "Exit speed",
        "launch": "Launch",
        "carry": "Carry",
        "direction": "Direction",
        "direction_unit": "° left, right",
        "side": "Side",
        "flight": "Flight",
        "contact": "Contact",
        "over_fence": "Over fence",
        "chance": "chance, %",
        "quality": "Quality",
        "sides": "Pull, middle,",
        "sides_under": "opposite",
        "spread": "half lie, °",
        "kinds": "Ground, line,",
        "kinds_under": "fly, pop-up",
        "swing": "Swing",
        "swing_by_swing": "Swing by swing",
        "table_under": "Contact is the ball's place ahead of or behind the plate's front edge. Striped rows: poor "
        "quality, take them lightly.",
        "left_out_by_hand": "Left out by hand: %s",
        "by_hand_star": "by hand*",
        "no_swing": "No swing was found in any clip.",
        "film": "Swings on film",
        "film_under": "The films lie in the folder “clips” beside this page; hand on the whole folder to keep them.",
        "pair": "First swing and best swing",
        "pair_under": "The first measured swing above the hardest hit one, each at the same times before and after "
        "contact: how early does each part of the swing begin?",
        "coach_short": "Coach:",
        "limits": "What this cannot tell",
        "limit_cause": "Why a number changed. Tiredness, the tosses, the bat, the wind and chance change it too; the "
        "coach saw the swings, the program saw the ball.",
        "limit_swing": "How the body moved. Only the ball is measured, from the bat on; the bat's own speed and the "
        "ball's spin are not.",
        "limit_flight": "How far a ball flew once it left the picture. Carry, landing spot and the chance over the "
        "fence go on from the part that was seen, through still air unless the lesson says otherwise, with usual "
        "spin. They are less sure than speed and angle. Where a net or a fence stopped the ball, they tell where it "
        "would have come down.",
        "limit_game": "How a player hits in a game. These are the swings of one lesson, at its own pitches.",
        "sure": "How sure these numbers are",
        "sure_counts": "It counts what the picture, the marks, the lens and the air leave open.",
        "by_hand_note": "* A person put something right:",
        "camera": "Camera",
        "camera_words": "Solved from %d of %d marks, which miss by %s px (root mean square).",
        "mark_left_out": "left out: mark it again",
        "next": "Before the next lesson",
        "next_place": "Nobody stands where a batted ball or a thrown bat can reach: behind a net or screen, or well "
        "out of the way. The phone films alone; nobody bends to it while a swing is possible.",
        "next_check": "Check nets, screens, tee and bat before the first swing. Ball and bat must be allowed for the "
        "league and the age.",
        "next_stop": "Stop at pain, dizziness or tiredness. Numbers are no reason for one more swing.",
        "next_rules": "The field's own rules, the coach's judgement and a doctor's or therapist's advice come before "
        "anything written here.",
        "made_by": "Made by balltrack %s, settings %s.",
        "found_by": "The ball was found by %s.",
        "private": "It was made on the coach's own computer; nothing was sent anywhere.",
    }
)
