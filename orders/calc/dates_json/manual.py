"""The help of the command: every key with its meaning, what the answers say, and an example that can be run."""

import textwrap
from collections.abc import Collection, Iterable, Mapping
from typing import Final

from orders.calc.dates_json.example import EXAMPLE
from orders.calc.dates_json.keys import SECTIONS
from orders.calc.dates_json.questions import ASKED_LINE, KINDS, QUESTION, TAKES
from orders.calc.dates_json.reading import DOCUMENT, NEEDED
from orders.calc.dates_json.values import Key, needed_of

WIDTH: Final = 100
COLUMN: Final = 19  # the longest key and two spaces

ANSWERS: Final = {
    "name, model, digest, seed, futures": "of the document; model names the version of the model and of NumPy, digest is"
    " the SHA-256 of the document with its keys in order and no spaces. The same model, digest and seed give the same answer"
    " on the same machine, to the last sign",
    "answers": "one for each question, in order; one that cannot be answered is {ask, error: sentence}",
    "when": "day: the first by which it is sent with the chance wanted, null where none is; half: the same for 50 in 100;"
    " curve: days with the share of futures sent by the end of each, up to 0.999; never: the share that is not sent within"
    " the horizon; holds: what its runs wait for, share of futures and mean open days a run; stuck: runs that cannot go on"
    " and why, and goods that are short; replanned: true where a new week serves it better than the week as it stood; promises: each promised order"
    " with its day and the chance of it before and after; losers: those that lose more than a point",
    "how_sure": "chance: that it is sent by the end of the day",
    "how_many": "pieces: the most that go by the day with the chance wanted when they are asked for by themselves; split:"
    " those with their day, and the rest in a run of its own with its day, null where it is never that sure",
    "promises": "order, day, chance",
    "week": "days, each with places (the first machine of a step, or bench), each with operations: run, step, pieces at the"
    " mean, people, machines, begins and ends as local moments at mean times, set_up minutes, tooling and whether it has to"
    " be changed, waits_for, pinned, comes: deliveries it takes from, buys: items to be bought, oven: what goes in together,"
    " how many loads, shut and open; runs and what is stuck",
    "ideas": "up to three of: an item there today, an hour longer, Saturdays, one more pair of hands, the oven left alone,"
    " first in the queue; with the day, the days gained (null where it was never that sure), and losers: promised orders that"
    " lose more than a point by it",
}


def text() -> str:
    """Give the whole help, lines of up to 100 signs."""
    parts = [_paragraph(words) for words in _INTRODUCTION.split("\n\n")]
    parts.append(_keys("Keys of a document", _rows(DOCUMENT, NEEDED)))
    parts += [_keys(name, _rows(keys, needed_of(kind))) for name, (kind, keys) in SECTIONS.items()]
    parts.append(_keys("questions", _rows(QUESTION, ("ask",))))
    asked = {kind: f"{words}. Takes {', '.join(TAKES[kind]) or 'nothing more'}" for kind, words in KINDS.items()}
    parts.append(_keys("questions.ask", asked.items()))
    parts.append(_keys("questions.lines", _rows(ASKED_LINE, tuple(ASKED_LINE))))
    parts.append(_keys("Answers", ANSWERS.items()))
    return "\n\n".join([*parts, f"A complete example:\n\n{EXAMPLE}"])


_INTRODUCTION: Final = """\
Reads the state of a shop and questions about ship dates as JSON, and writes a line of JSON for each document: one document
a line, or one that is laid out over many lines. Without a file it reads standard input.

Days are written 2026-12-01, times of day 08:00, moments 2026-12-01T14:30, all local; minutes and pieces are numbers. What
stands in brackets holds where a key is left out. Days of a supplier are days of the calendar.

Orders are served as they stand in lines, whatever their days; one that is asked for stands last. A run goes whole from step
to step, so none of it is there before all of it is. What stands after the last step of its route is finished.

A state or a question that cannot be is answered by {"line": number, "error": sentence} or {"ask": ..., "error": sentence}
with the place that is wrong, counted from 0, and what would work; the exit code is 0. What is no JSON is answered likewise,
and then the exit code is 1; a file that cannot be read is an error of the command, and then it is 2."""


def _rows(keys: Mapping[str, Key], needed: Collection[str]) -> list[tuple[str, str]]:
    return [(key, f"needed: {one.words}" if key in needed else one.words) for key, one in keys.items()]


def _paragraph(words: str) -> str:
    return textwrap.fill(words, WIDTH)


def _keys(name: str, rows: Iterable[tuple[str, str]]) -> str:
    lines = [f"{name}:"]
    for key, words in rows:
        gap = " " * (COLUMN + 2)
        if len(key) < COLUMN:
            lines.append(textwrap.fill(f"  {key:{COLUMN}}{words}", WIDTH, subsequent_indent=gap, drop_whitespace=True,
                                       replace_whitespace=False))  # fmt: skip
        else:
            lines += [f"  {key}", textwrap.fill(words, WIDTH, initial_indent=gap, subsequent_indent=gap)]
    return "\n".join(lines)
