"""Of what came of a recipe's panels: what they say of its dose, its break point and its etching rate."""

WORDS = {
    "dose_agrees": (
        "The results agree with the dose: they say {low:.3g} to {high:.3g} {unit} (95 %, panels: {panels:.0f})."
    ),
    "dose_apart": (
        "The results ask for {mid:.3g} {unit}, {low:.3g} to {high:.3g} (95 %, panels: {panels:.0f}). "
        "The recipe lies outside."
    ),
    "point_agrees": (
        "The results agree with the dwell: clear after {low:.0%} to {high:.0%} of it (95 %, panels: {panels:.0f})."
    ),
    "point_apart": (
        "The results ask for a break point at {mid:.0%} of the dwell, {low:.0%} to {high:.0%} "
        "(95 %, panels: {panels:.0f}). The recipe lies outside."
    ),
    "rate_learned": (
        "{metal} in {bath}, fresh: {mid:.3g} µm/min on each side, {low:.3g} to {high:.3g} (95 %, panels: {panels:.0f})."
    ),
}
