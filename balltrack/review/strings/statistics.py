"""What is said of the swings' numbers: three sentences to take home, and what changed."""

from collections.abc import Mapping
from types import MappingProxyType

STATISTICS: Mapping[str, str] = MappingProxyType(
    {
        # Three sentences to take home.
        "went_none": "No hit was measured, so these numbers say nothing of this lesson yet.",
        "went_few": "Only one hit was measured, the fastest at {fastest}: too few to say what is typical. | Only "
        "{count} hits were measured, the fastest at {fastest}: too few to say what is typical.",
        "went": "Half of the {count} measured hits left the bat at {speed} or faster; the fastest at {fastest}.",
        "went_likely": "Half of the {count} measured hits left the bat at {speed} or faster (likely {low} to {high}); "
        "the fastest at {fastest}.",
        "stood_out_well_hit": "{count} of {of} hits were well hit: nearly as fast as this player's own fastest, fair, "
        "and neither too low nor too high.",
        "stood_out_over": "By their chances, about {over} of {count} hits would clear the fence.",
        "stood_out_change": "{quantity}, {after} against {before}: {change}.",
        "practise_few": "One swing cannot say what to practise. Next time film at least ten of each kind. | {count} "
        "swings cannot say what to practise. Next time film at least ten of each kind.",
        "practise_no_swing": "A lesson without swings cannot say what to practise. Next time film ten of each kind.",
        "practise_more": "{count} swings show no one thing to practise. At least ten of each kind next time would "
        "tell more.",
        "practise_nothing": "No one thing to practise stands out in these numbers. The same blocks again next time "
        "would make the two lessons comparable.",
        "practise_launch": "The launch varied much: half of the hits lie between {low}° and {high}°. Worth trying "
        "next: ten balls from the same tee at one mark on the net.",
        "habit_misses": "{count} of {of} swings missed the ball. Worth trying next: slower tosses or the tee until "
        "bat meets ball, then back.",
        "habit_ground_ball": "{count} of {of} hits went into the ground. Worth trying next: from the tee, a mark on "
        "the net above the pitcher's head, then look whether the launch rises.",
        "habit_pop_up": "{count} of {of} hits went straight up. Worth trying next: from the tee, a mark on the net at "
        "head height, then look whether the launch comes down.",
        "habit_late": "{count} of {of} pitched or tossed balls were met late. Worth trying next: start a little "
        "sooner, or slower pitches, then look whether contact moves ahead.",
        "habit_early": "{count} of {of} pitched or tossed balls were met early. Worth trying next: let the ball come "
        "further, then look whether contact moves back.",
        "habit_pull": "{count} of {of} hits went to the pull side. If the whole field is the aim, worth trying next: "
        "balls over the outer part of the plate, hit to the opposite field.",
        "habit_opposite": "{count} of {of} hits went to the opposite field. If the whole field is the aim, worth "
        "trying next: balls over the inner part of the plate, met further ahead.",
        # Did it change? What stands within a sentence is a text of its own: not all languages only drop a capital.
        "nothing_to_compare": "Last swings against first: too few swings to tell.",
        "first": "First {count} swings",
        "first_mixed": "First of each kind ({count} swings)",
        "last": "Last {count} swings",
        "last_mixed": "Last of each kind ({count} swings)",
        "inside_first": "first {count} swings",
        "inside_first_mixed": "first of each kind ({count} swings)",
        "inside_last": "last {count} swings",
        "inside_last_mixed": "last of each kind ({count} swings)",
        "against": "{after} against {before}",
        "against_counts": "{after} against {before}, {after_count} against {before_count}",
        "quantity_exit_speed": "Exit speed",
        "quantity_launch": "Launch angle",
        "quantity_spray": "Direction",
        "quantity_depth": "Contact ahead of the plate",
        "quantity_carry": "Carry",
        "quantity_launch_spread": "Spread of launch angles",
        "quantity_spray_spread": "Spread of directions",
        "quantity_misses": "Misses",
        "inside_exit_speed": "exit speed",
        "inside_launch": "launch angle",
        "inside_launch_spread": "spread of launch angles",
        "inside_misses": "misses",
        "change_line": "{quantity}: {change}.",
        "change_too_few_for": "Too few swings to tell for {quantities}.",
        "change_too_few": "too few swings to tell ({before} against {after}; it takes {fewest} on each side)",
        "change_clear": "{change}, likely {low} to {high}",
        "change_clear_up_to": "{change}, likely up to {high}",
        "change_not_clear": "no clear change: likely between {less} and {more}",
        "change_few": "{change}; only {before} swings against {after}",
        "change_caution": "{change}; {caution}",
        "caution_unstated": "how the balls were delivered is not stated; if not alike, that alone may change it",
        "caution_unlike": "{before}, then {after}: that alone may change it",
        "more_exit_speed": "{amount} faster",
        "less_exit_speed": "{amount} slower",
        "more_launch": "{amount} higher",
        "less_launch": "{amount} lower",
        "more_spray": "{amount} further to the right",
        "less_spray": "{amount} further to the left",
        "more_depth": "{amount} further ahead",
        "less_depth": "{amount} deeper",
        "more_carry": "{amount} further",
        "less_carry": "{amount} shorter",
        "more_launch_spread": "{amount} more spread out",
        "less_launch_spread": "{amount} closer together",
        "more_spray_spread": "{amount} more spread out",
        "less_spray_spread": "{amount} closer together",
        "more_misses": "{amount} more in 100 swings",
        "less_misses": "{amount} fewer in 100 swings",
        "inside_tee": "off a tee",
        "inside_toss": "tossed",
        "inside_live": "pitched live",
        "inside_unstated": "delivered in a way not stated",
    }
)
