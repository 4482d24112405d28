"""What control says, in the reader's language. Control speaks English; what is not known here stays as it was said.

Fault titles and remedies are looked up whole; sentences of the state by themselves or by their pattern.
"""

import re
from functools import cache

from sumlight_web.lamps import sayings
from sumlight_web.language import N_, _, reader

SENTENCES = (
    N_("Measuring the darkness before the lamps go on."),
    N_("The panel receives light. Leave the lid shut."),
    N_("The lid was opened."),
    N_("The lamps were switched off by hand."),
    N_("A fault ended the light."),
    N_("The controller was restarted in the middle of this panel."),
    N_("The dose so far is kept."),
    N_("Continue or abandon it."),
    N_("Shut the lid, then continue or abandon it."),
    N_("Go on when everything lies ready."),
    N_("Shut the lid when everything lies ready."),
    N_("Open the lid, turn the panel, shut the lid."),
    N_("Open the lid, move the step tablet to the next zone, mask the others, shut the lid."),
    N_("Open the lid, slide the mask on by one strip, shut the lid."),
    N_("Open the lid, change what lies before the sensor, shut the lid."),
    N_("Open the lid, move the sensor to its next place, shut the lid."),
    N_("The panel was abandoned; its record is kept."),
    N_("Done: the hold time is over, the panel may be developed."),
    N_("Done, but the longest hold time has passed: test a corner before you develop the panel."),
    N_("Done: take the panel out, keep it covered and let it rest."),
    N_("Choose a recipe and start."),
    N_("Lay the panel in and shut the lid."),
    N_("No contactor K1 is declared: a welded lamp relay could not be switched off by this controller."),
    N_("The last panel is still being recorded."),
    N_("Try again in a moment."),
    N_("The lid was not opened since the last light."),
    N_("No exposure is under way."),
    N_("There is nothing to abandon."),
    N_("Tubes cannot be changed during an exposure."),
    N_("Finish or abandon the panel first."),
)

PATTERNS = (
    N_("Side {side} is done."),
    N_("Leg {number} of {count} is done."),
    *sayings.PATTERNS,
)
"""Sentences with something put in; what stands in braces is taken over: a word, or any text for a {why}."""


@cache
def _matcher(pattern: str) -> re.Pattern[str]:
    words = re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>[^ ]+)", re.escape(pattern))
    return re.compile(words.replace("(?P<why>[^ ]+)", "(?P<why>.+)") + r"\Z")


def said(text: str) -> str:
    """`text` as the reader understands it, as far as it is known."""
    if reader().language == "en" or not text:
        return text
    whole = _(text)
    if whole != text:
        return whole
    for pattern in PATTERNS:
        found = _matcher(pattern).match(text)
        if found:
            return _(pattern, **found.groupdict())
    parts = re.split(r"(?<=[.!?]) ", text)
    if len(parts) > 1:
        return _longest(parts)
    title, colon, rest = text.partition(": ")
    return f"{_(title)}: {said(rest)}" if colon and _(title) != title else text


def _longest(parts: list[str]) -> str:
    """Sentence by sentence, taking together as many as are known together."""
    title, colon, rest = parts[0].partition(": ")
    if colon and _(title) != title:
        return f"{_(title)}: {said(' '.join([rest, *parts[1:]]))}"
    for end in range(len(parts) - 1, 0, -1):
        head = " ".join(parts[:end])
        known = said(head) if end == 1 else _(head)
        if known != head or end == 1:
            return f"{known} {said(' '.join(parts[end:]))}"
    return " ".join(parts)
