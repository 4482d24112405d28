"""Of baths in use: what they were mixed of, what they have taken, how long the next panel needs, when to mix new."""

WORDS = {
    "bath_name": "bath {number} ({kind})",
    "made_volume": "{litres:.4g} L.",
    "made_wt": "{wt:.3g} wt% in the finished bath.",
    "made_g_per_l": "{grams:.4g} g in a litre.",
    "made_peroxide": "{peroxide:.3g} wt% peroxide and {acid:.3g} wt% acid in the finished bath.",
    "made_from": "Mixed from {percent:.4g} %.",
    "made_from_two": "Mixed from peroxide of {percent:.4g} % and acid of {acid:.4g} %.",
    "bath_fresh": "Nothing has been in it yet.",
    "bath_taken": "Panels so far: {panels:.0f}.",
    "bath_taken_metal": "Panels so far: {panels:.0f}, with {grams:.3g} g of metal.",
    "bath_share": "About {percent:.0f} % of what it can take is used.",
    "bath_not_counted": "Not counted in that, for want of an area or a capacity: {panels:.0f}.",
    "share_of_sum": "The whole is what its strength dissolves by stoichiometry; 45 to 95 % of it is usable.",
    "share_of_chart": "The whole is from one chart of the trade; the time to clear overrules it.",
    "share_of_practice": "The whole is {dm2:g} dm² of resist to a litre: common practice, no source.",
    "share_air": "Air and acid renew it, so no sum tells what it can take: its own times do.",
    "share_unknown": "Nobody knows what it can take: its own times tell.",
    "bath_goes_on": "It goes on: about {percent:.0f} % of its life is over.",
    "bath_soon_new": "Mix new soon: about {percent:.0f} % of its life is over.",
    "bath_new_by_times": "Mix new: a panel takes {times:.1f} times as long as in the fresh bath, by its own times.",
    "bath_new_by_sum": "Mix new: by practice a panel takes {times:.1f} times as long as in the fresh bath by now.",
    "bath_new_by_area": "Mix new: it has stripped what practice gives it.",
    "bath_cannot_finish": "Mix new: {left:.0f} % is left and such a panel needs {own:.0f} %; it would never finish.",
    "etch_learned": (
        "Expected through between {low:.1f} and {high:.1f} min, from this bath's own times ({panels:.0f})."
    ),
    "etch_practice": (
        "Expected through between {low:.1f} and {high:.1f} min. That is practice: nobody has timed this bath yet."
    ),
    "clear_learned": ("Expected clear between {low:.0f} and {high:.0f} s, from this bath's own times ({panels:.0f})."),
    "clear_practice": (
        "Expected clear between {low:.0f} and {high:.0f} s. That is practice: nobody has timed this bath yet."
    ),
    "waste_holds": "{litres:.3g} L in it (baths: {baths:.0f}).",
    "waste_holds_since": "{litres:.3g} L in it since it was emptied on {day} (baths: {baths:.0f}).",
    "waste_emptied": "Emptied on {day}; nothing is in it.",
    "waste_holds_nothing": "Nothing is in it.",
    "several_baths": "Several baths could take it: choose one under Plan and numbers.",
    "no_such_bath": "bath_id must be one of those in use, not {bath_id}",
    "bath_is_waste": "Bath {bath_id} is waste already.",
    "bath_took_nothing": "Bath {bath_id} has taken no panel yet.",
    "too_many_baths": "{most} baths are in use",
    "waste_a_bath_first": "Move one to waste first.",
    "say_is_clear": "Only a panel that is in the developer can be clear.",
}
