"""What control says, in the reader's language. Control speaks English; what is not known here stays as it was said.

Fault titles and remedies are looked up whole; sentences of the state by themselves or by their pattern. What control
says about light stands in `spoken_light`.
"""

import re
from functools import cache

from sumlight_web import spoken_light
from sumlight_web.lamps import sayings
from sumlight_web.language import N_, _, reader

SENTENCES = (
    N_("Then the lamps go on."),
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
    N_("This box has not been commissioned for its present wiring: exposures are locked."),
    N_("This box has not been commissioned for its present wiring."),
    N_("Commission it (page Box, or `sumlight commission`). Who must light before can override it, on record."),
    N_("Commissioning is under way."),
    N_("Finish or abort it first."),
    N_("An exposure is under way."),
    N_("Finish or abandon it first."),
    N_("The commissioning has gone on meanwhile."),
    N_("Look at the step that is now due."),
    N_("No commissioning is under way."),
    N_("Begin one first."),
    N_("The lid is not shut."),
    N_("This step waits for something else."),
    N_("Exposures are not locked."),
    N_("There is nothing to override."),
    N_("An answer is needed."),
    N_("Say yes or no."),
    N_("Check the sensor's cable; it is tried again every second."),
    N_("Make room on the card or replace it."),
    N_("End what else runs on this computer, or use a faster one."),
    # what a step of commissioning found and measured
    N_("shut"),
    N_("open"),
    N_("disagree"),
    N_("Box.yaml leaves this signal out."),
    N_("Dark in time."),
    N_("Dark in time, K1 still held."),
    N_("The lid read shut although it was open with one contact held."),
    N_("The light did not end by itself."),
    N_("The person saw lamps burn on after the kill."),
    N_("K1's mirror shows it closed although nothing feeds its pump."),
    N_("The person saw the lamps go dark; and K1's mirror shows it dropped."),
    N_("The person saw the lamps go dark; K1 has no mirror."),
    N_("Noticed."),
    N_("Less than half of the light."),
    N_("Lamps told to go dark."),
    N_("K1 dropped after that."),
    N_("Leaking light."),
    N_("Passed. Exposures are unlocked for the wiring below."),
    N_("Failed. Do not use the box: put right what the last step names, then begin anew."),
    N_("Tubes cannot be changed during an exposure."),
    N_("Finish or abandon the panel first."),
)

_PATTERNS = (
    N_("Pulling vacuum, {seconds} s."),
    N_("{seconds} s of vacuum come before the light."),
    N_("Side {side} is done."),
    N_("Leg {number} of {count} is done."),
    N_("The light meter of bank {bank} gives no reading."),
    N_("Not commissioned for its present wiring; unlocked by {who_words} on {day}: {reason_words}"),
    N_("The lid reads {seen_words}, but it is {real_words}."),
    N_("The lid reads {seen_words}."),
    N_("Fault {name} was raised."),
    N_("No fault {name} came within {limit_s} s (lid reads {lid_words})."),
    N_("The lamps did not light soundly: fault {names_words}."),
    N_("The lamps did not stay on (the box is {state})."),
    N_("The light did not end by itself: fault {names_words}."),
    N_("The light did not end in time (the box is {state})."),
    N_("The lamps went out for another reason: {names_words}."),
    N_("The lamps went out meanwhile: {names_words}."),
    N_("Nothing was noticed within {limit_s} s."),
    N_("The lamps stayed on for {time_s} s."),
    N_("Fault {name} was not raised; there is {names_words}."),
    N_("An unexpected fault came: {names_words}."),
    N_("Too slow: {names_words}."),
    N_("This computer is too slow: {rate} ticks a second, {needed} needed."),
    N_("The controller was not killed within {limit_s} s."),
    N_("Eyes may be in this light for {time_words} ({limit_words} limit, at 365 nm)."),
    N_("{number} hours a day"),
    N_("{number} minutes a day"),
    N_("{number} seconds a day"),
    *spoken_light.PATTERNS,
    *sayings.PATTERNS,
)

PATTERNS = sorted(_PATTERNS, key=lambda pattern: -len(re.sub(r"\{\w+\}", "", pattern)))
"""Sentences with something put in; where two match, the one that says more.

What stands in braces is taken over; where its name ends in `_words`, it is said in the reader's language too. It never
reaches beyond one sentence, unless it stands at the very end of the pattern.
"""


@cache
def _matcher(pattern: str) -> re.Pattern[str]:
    found = re.escape(pattern)
    if pattern.endswith("_words}"):
        found = re.sub(r"\\\{(\w+)\\\}\Z", r"(?P<\1>.+)", found)
    return re.compile(re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>(?:(?![.!?] ).)+?)", found) + r"\Z")


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
            put = found.groupdict()
            return _(pattern, **{key: said(text) if key.endswith("_words") else text for key, text in put.items()})
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
