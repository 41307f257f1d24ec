"""Every word that a reader of the review sees: one table, so that another language is one more table.

A translator copies `ENGLISH` and puts other words behind the same keys. What stands in braces is filled in by the
program and may move within its text. A text with `FORMS` between its parts has one form for each of the language's
plurals, chosen by ``{count}``; ``plural`` says which, as in gettext's catalogues.

Not here: names of units and how numbers are written; what the coach typed; and what measuring wrote into
swings.jsonl in words of its own (reasons, warnings, what was put right by hand).
"""

from collections.abc import Mapping
from types import MappingProxyType

from balltrack.records.wording import WORDS
from balltrack.review.strings.charts import CHARTS
from balltrack.review.strings.page import PAGE
from balltrack.review.strings.pictures import PICTURES
from balltrack.review.strings.statistics import STATISTICS

FORMS = " | "

ENGLISH: Mapping[str, str] = MappingProxyType(
    {
        "language": "en",
        "plural": "n != 1",
        "months": "January February March April May June July August September October November December",
        "day": "{day} {month} {year}",
        "listed": "{first} and {last}",
        "quoted": "“{words}”",
        **WORDS,
        **PAGE,
        **STATISTICS,
        **CHARTS,
        **PICTURES,
    }
)
