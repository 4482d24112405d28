"""What buzzer and light do for each sign, and the buzzer for timers. Pure.

Nothing blinks more than twice a second: three flashes a second are the most that WCAG 2.2 allows (2.3.1).
"""

from sumlight.protocol.snapshot import Sign

NAG_S = 120.0
"""So long the buzzer calls somebody who does not come; the light goes on."""


def buzzer_on(sign: Sign, since_s: float) -> bool:
    """Whether the buzzer sounds, `since_s` after the sign began."""
    match sign:
        case "fault":  # five long ones, every half a minute
            return since_s % 30.0 < 6.0 and since_s % 1.2 < 0.8
        case "needs_you":  # two short ones, every eight seconds
            at_s = since_s % 8.0
            return since_s < NAG_S and (at_s < 0.15 or 0.3 <= at_s < 0.45)
        case "done":  # three, once
            return since_s < 1.8 and since_s % 0.6 < 0.3
    return False


def timer_heard(since_s: float) -> bool:
    """Whether the buzzer sounds for a timer, `since_s` after it rang: one tone every four seconds."""
    return since_s < NAG_S and since_s % 4.0 < 0.5


def light_on(sign: Sign, since_s: float) -> bool:
    """Whether the light shines: steady under way, slow when somebody is needed, fast for a fault, winks when ready."""
    match sign:
        case "fault":
            return since_s % 0.5 < 0.25
        case "needs_you" | "done":
            return since_s % 2.0 < 1.0
        case "lit":
            return True
        case "ready":
            return since_s % 3.0 < 0.1
    return False
