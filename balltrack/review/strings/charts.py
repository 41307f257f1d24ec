"""What stands in the charts, and the words for who does not see them."""

from collections.abc import Mapping
from types import MappingProxyType

CHARTS: Mapping[str, str] = MappingProxyType(
    {
        # Several charts.
        "axis_exit_speed": "exit speed, {unit}",
        "hollow": "Hollow: poor quality.",
        "numbers_many": "{count} swings",
        "fence_at": "fence {distance} {unit}, {high} {unit} high",
        "fence_from": "fence {near} to {far} {unit}, {high} {unit} high",
        # The field from above.
        "spray_title": "{player}: where the balls came down",
        "spray_note": "Where each ball first touched, or would have touched, level ground. Ovals hold nine in ten.",
        "spray_none": "No landing spot was measured",
        "spray_words_none": "The field from above. No landing spot was measured.",
        "spray_words": "The field from above, plate at the bottom, with the landing spots of {count} ball. | The "
        "field from above, plate at the bottom, with the landing spots of {count} balls.",
        "spray_words_right": "{pull} to the pull side, {middle} up the middle, {opposite} to the opposite field, "
        "which is right field for this batter.",
        "spray_words_left": "{pull} to the pull side, {middle} up the middle, {opposite} to the opposite field, which "
        "is left field for this batter.",
        "spray_words_longest": "The longest, swing {number}, came down {distance} {unit} from the plate.",
        "spray_words_over": "More likely than not over the fence: {numbers}.",
        "sector_pull": "pull side\n{count} ball | pull side\n{count} balls",
        "sector_middle": "middle\n{count} ball | middle\n{count} balls",
        "sector_opposite": "opposite field\n{count} ball | opposite field\n{count} balls",
        "field_fence": "fence\n{distance} {unit}",
        "field_fence_round": "fence, left to right\n{distances} {unit}",
        # Exit speed against launch.
        "exit_launch_title": "{player}: how hard and how high",
        "exit_launch_curves": "Curves: carry in {unit} with usual spin over level ground, to centre field, air of "
        "{density} kg/m³, no wind.",
        "exit_launch_curves_wind": "Curves: carry in {unit} with usual spin over level ground, to centre field, air "
        "of {density} kg/m³, in the wind entered.",
        "exit_launch_fence": "Dashed: just over the fence there.",
        "exit_launch_crosses": "Crosses hold nine in ten.",
        "exit_launch_axis": "launch, °",
        "exit_launch_carry": "carry, {unit}",
        "exit_launch_none": "No exit speed was measured",
        "exit_launch_words_none": "Exit speed against launch. No exit speed was measured.",
        "exit_launch_words": "Exit speed against launch for {count} measured swing: {kinds}. | Exit speed against "
        "launch for {count} measured swings: {kinds}.",
        "exit_launch_words_best": "The hardest, swing {number}, left the bat at {speed} {unit} and {launch}°.",
        "exit_launch_words_curves": "Curves show how far such a hit would carry.",
        "band_ground_ball": "ground ball · {count}",
        "band_line_drive": "line drive · {count}",
        "band_fly_ball": "fly ball · {count}",
        "band_pop_up": "pop-up · {count}",
        "hits_ground_ball": "{count} ground ball | {count} ground balls",
        "hits_line_drive": "{count} line drive | {count} line drives",
        "hits_fly_ball": "{count} fly ball | {count} fly balls",
        "hits_pop_up": "{count} pop-up | {count} pop-ups",
        # Where bat met ball.
        "contact_title": "{player}: where the bat met the ball",
        "contact_scale": "Ball and plate to scale. Tinted: where inside, middle and outside pitches are usually met.",
        "contact_sure": "Measured to ±{along} {unit} along, ±{across} across, ±{up} in height (nine in ten).",
        "contact_bold": "Bold: surely {timings}.",
        "contact_early": "early {numbers}",
        "contact_late": "late {numbers}",
        "contact_jammed": "jammed {numbers}",
        "contact_tee": "Off a tee, depth is where the tee stood.",
        "contact_none": "No contact was measured",
        "contact_words_none": "The plate from above and from the side. No contact was measured.",
        "contact_words_ahead": "The plate from above and from the side with the contact points of {count} swing, "
        "typically {depth} {unit} ahead of the front edge. | The plate from above and from the side with the contact "
        "points of {count} swings, typically {depth} {unit} ahead of the front edge.",
        "contact_words_behind": "The plate from above and from the side with the contact points of {count} swing, "
        "typically {depth} {unit} behind the front edge. | The plate from above and from the side with the contact "
        "points of {count} swings, typically {depth} {unit} behind the front edge.",
        "contact_words_at": "The plate from above and from the side with the contact points of {count} swing, "
        "typically at the front edge. | The plate from above and from the side with the contact points of {count} "
        "swings, typically at the front edge.",
        "contact_words_timed": "{timing}: {numbers}.",
        "third_outside": "outside",
        "third_middle": "middle",
        "third_inside": "inside",
        "contact_batter": "batter",
        "to_early": "early →",
        "to_late": "← late",
        "to_jammed": "← jammed",
        "from_above": "from above",
        "from_side": "from the side, first base nearer",
        "to_pitcher": "to the pitcher →",
        "contact_axis": "ahead of the plate's front edge, {unit}",
        "contact_high": "{height} {unit} high",
        # Swing by swing.
        "order_title": "{player}: swing by swing",
        "order_note": "Bars hold nine in ten. Bold number and long line: half of the block's swings lie above, half "
        "below.",
        "order_no_contact": "×: missed.",
        "order_not_measured": "?: hit, no number.",
        "order_axis": "swing",
        "order_words": "Exit speed swing by swing, {count} swing. | Exit speed swing by swing, {count} swings.",
        "order_words_block": "{block}: from {low} to {high} {unit}, typical {typical}.",
        "order_words_block_none": "{block}: no exit speed.",
        "order_words_no_contact": "Missed: {numbers}.",
        "order_words_not_measured": "Without a number: {numbers}.",
        # The flights from the side.
        "flights_title": "{player}: the flights from the side",
        "flights_note": "Fair balls, each along its own way; heights to the same scale as distances.",
        "flights_beyond": "Beyond the fence dotted.",
        "flights_clear": "More likely over it than not: {numbers}.",
        "flights_along": "along the ground from the plate, {unit}",
        "flights_up": "height, {unit}",
        "flights_none": "No flight was measured",
        "flights_words_none": "The flights from the side. No flight was measured.",
        "flights_words": "The flights of {count} fair ball from the side, from contact to the ground. | The flights "
        "of {count} fair balls from the side, from contact to the ground.",
        "flights_words_highest": "The highest, swing {number}, rose to {height} {unit}.",
        "flights_words_chances": "Chance over the fence: {chances}.",
        "flights_words_chance": "swing {number} {chance} %",
        "flights_words_no_chance": "None is likely to clear the fence.",
        # A player's lessons.
        "history_title": "{player}: exit speed, lesson by lesson",
        "history_note": "Half of a lesson's swings lie above its mark, half below. Bars hold the mark nine times in "
        "ten, that day's camera error included; no bar: too few swings.",
        "delivered_tee": "Off a tee",
        "delivered_toss": "Tossed",
        "delivered_live": "Pitched live",
        "delivered_unstated": "Delivered in a way not stated",
        "ball_softball-12": "softball-12",
        "ball_softball-11": "softball-11",
        "ball_baseball": "baseball",
        "box_right": "right",
        "box_left": "left",
    }
)
