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
    N_("Done: keep the panel covered outside the box and let it rest."),
    N_("Take the panel out: open the lid, shut it again."),
    N_("Before a panel is lit, open the lid and shut it again."),
    N_("What was lit last may still lie inside."),
    N_("The box has moved on since you looked."),
    N_("Look again, then press."),
    N_("This press does not say what was seen."),
    N_("Load the page again, then press."),
    N_("The recipe has changed since you looked."),
    N_("Load the page again and read it, then press."),
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
    N_("Commission it (page Box, or `sumlight setup commission`). Who must light before can override it, on record."),
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
    N_("Not proved here: by the electrician, mains off."),
    N_("K1's mirror shows it dropped."),
    N_("K1 dropped by this contact alone, while the heart beat on."),
    N_("K1 dropped after the contact."),
    N_("K1 was not seen held with all lamps off and dark."),
    N_("K1's mirror did not show it dropped at first."),
    N_("K1's mirror did not show it held although the heart beat."),
    N_("A contact opened before K1 was held."),
    N_("Light was seen while K1 was held with all lamps off."),
    N_("K1 was let go because somebody wanted dark."),
    N_("Read the fault on the page, then begin anew."),
    N_("Begin anew."),
    N_("K1 is held only for somebody who stands at the box."),
    N_("Go there and say so."),
    N_("K1 has not been seen held with all lamps off."),
    N_("Begin the commissioning anew."),
    N_("A light meter gives no reading."),
    N_("Check the sensor's cable."),
    N_("There is light with all lamps off."),
    N_("Darken the room; a relay may be welded."),
    N_("This box was commissioned by an older walk that proved less."),
    N_("a lamp bank is switched on"),
    N_("light was seen"),
    N_("a light meter gives no reading"),
    N_("a fault is standing"),
    N_("the control loop was held up"),
    N_("K1 did not do what it must"),
    N_("The lid was not opened"),
    N_("The emergency stop was not pressed"),
    N_("the lid was not opened"),
    N_("the emergency stop was not pressed"),
    N_("The emergency stop was pressed"),
    N_("The over-temperature contact opened"),
    N_("The lid was opened"),
    N_("the lid switch S3"),
    N_("the contact of the emergency stop S2"),
    N_("the thermal cut-out F3"),
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
    N_(
        "Incomplete. Nothing failed and exposures are unlocked, but what the steps below call not proved is left to a "
        "licensed electrician, mains off."
    ),
    N_("Failed. Do not use the box: put right what the last step names, then begin anew."),
    N_("Tubes cannot be changed during an exposure."),
    N_("Finish or abandon the panel first."),
    # rules of a recipe that lie across its fields
    N_("Is missing: two sides are exposed, so B needs its value."),
    N_("Is missing: reciprocity_p other than 1 needs the irradiance that the dose was found at."),
)

_PATTERNS = (
    N_("Must be longer than hold_s ({hold_s} s) or be left out."),
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
    N_("Too slow: K1 dropped {time_s} s after the contact opened."),
    N_("Not proved here: box.yaml leaves out {key}."),
    N_("K1 was let go: {why_words}."),
    N_("K1 dropped by itself: {what_words}."),
    N_("{what_words} within {limit_s} s."),
    N_("{what_words}, but K1 stayed held for {limit_s} s: {part_words} is missing in K1's coil circuit, or bridged."),
    N_(
        "K1 stayed held for {limit_s} s: {part_words} is missing in K1's coil circuit, or bridged, or nobody pressed "
        "its button."
    ),
    N_("Another contact than the one asked for opened: {names}."),
    N_("Commissioning is incomplete; not proved here: {titles_list}"),
    N_(
        "This box was commissioned by an older walk that proved less: exposures are locked until it is commissioned "
        "again. Not proved so far: {titles_list}"
    ),
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

What stands in braces is taken over; where its name ends in `_words` (or `_list`: each part of it), it is said in the
reader's language too. It never
reaches beyond one sentence, unless it stands at the very end of the pattern.
"""


@cache
def _matcher(pattern: str) -> re.Pattern[str]:
    found = re.escape(pattern)
    if pattern.endswith(("_words}", "_list}")):
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
            return _(pattern, **{key: _put_in(key, text) for key, text in put.items()})
    parts = re.split(r"(?<=[.!?]) ", text)
    if len(parts) > 1:
        return _longest(parts)
    title, colon, rest = text.partition(": ")
    return f"{_(title)}: {said(rest)}" if colon and _(title) != title else text


def _put_in(key: str, text: str) -> str:
    if key.endswith("_list"):
        return ", ".join(said(part) for part in text.split(", "))
    return said(text) if key.endswith("_words") else text


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
