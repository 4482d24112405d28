"""Of mixing: what goes in, in which order, how strong, and what to weigh again."""

WORDS = {
    "water": "water",
    "sodium_carbonate": "soda (sodium carbonate)",
    "potassium_carbonate": "potash (potassium carbonate)",
    "caustic_soda": "caustic soda",
    "caustic_potash": "caustic potash",
    "hydrochloric_acid": "hydrochloric acid",
    "hydrogen_peroxide": "hydrogen peroxide",
    "iron_iii_chloride": "iron(III) chloride",
    "copper_ii_chloride": "copper(II) chloride",
    "sodium_persulfate": "sodium persulfate",
    "soda": "soda",
    "lime": "lime",
    "bicarbonate": "bicarbonate",
    "dry_soda": "dry soda",
    "soda_monohydrate": "soda monohydrate",
    "soda_crystals": "soda crystals",
    "stock_of_strength": "{name} of {wt:.3g} wt%",
    "powder_as_it_is": "{name}, as it is: {percent:.0f} % of it is dry",
    "mix_echo": "{dry:.3g} g of dry {name} in {mass:.4g} g of finished solution ({wt:.3g} wt%)",
    "mix_echo_per_litre": "{grams:.3g} g of {name} in {litres:.4g} L of finished bath ({g_per_l:g} g in a litre)",
    "mix_echo_volumes": "Volumes: {volumes}. Finished: {peroxide:.2g} wt% peroxide, {acid:.3g} wt% acid.",
    "one_volume": "1 volume of {name}",
    "volumes_to": "{share:.3g} of {name} to {rest}",
    "put_water": "Put {grams:.0f} g ({ml:.0f} mL) of water into a plastic vessel.",
    "put_warm_water": "Put {grams:.0f} g ({ml:.0f} mL) of warm water into a plastic vessel.",
    "put_cold_water": "Put {grams:.0f} g ({ml:.0f} mL) of cold water into a plastic vessel: it will heat up.",
    "put_warm_water_ml": "Put {ml:.0f} mL of warm water into a plastic vessel.",
    "stir_in_little": "Stir in {grams:.3g} g of {name}, a little at a time. Never pour water onto it.",
    "stir_in_clear": "Stir in {grams:.3g} g of {name} until it is clear.",
    "pour_in": "Pour in {grams:.0f} g ({ml:.0f} mL) of {name}, slowly, stirring.",
    "fill_up": "Fill up with water to {litres:.4g} L.",
    "tray_first": "{ml:.0f} mL ({grams:.0f} g) of {name} into the open tray, first.",
    "tray_next": "{ml:.0f} mL ({grams:.0f} g) of {name} into the tray.",
    "tray_last": "{ml:.0f} mL ({grams:.0f} g) of {name} last, slowly, into the open tray, stirring.",
    "works_at": "Works at {low:g} to {high:g} °C.",
    "works_at_persulfate": "Works at {low:g} to {high:g} °C; above 60 °C it falls apart by itself.",
    "works_at_peroxide": "Works at {low:g} to {high:g} °C; above 35 °C take the panel out.",
    "largest_batch": "Etch at most {grams:.2g} g of copper at a time: more could warm it by over {limit:g} K.",
    "strip_overrules": (
        "Before the first panel, time how long a test strip takes to clear. That time overrules this sum: a "
        "fresh bath that clears slowly is too weak, whatever was weighed."
    ),
    "oven_check": (
        "Oven check: weigh about 10 g, spread it in a steel tray, keep it at 200 °C for an hour, let it cool "
        "under a lid and weigh again. What is left is dry soda whatever it was: weigh your bath from that."
    ),
    "powder_dry": "Counted as dry soda. It must say sodium carbonate: bicarbonate, kitchen soda, does not develop.",
    "powder_clear_crystals": "Clear crystals are 63 % water: 2.7 times as much has to be weighed.",
    "powder_gone_white": "Crystals that have gone white may be anything between. {check}",
    "powder_unknown": "A powder that nobody knows may be anything. {check}",
    "oven_too_little": "{percent:.0f} % is left: less than any soda leaves. It is something else, or was wet.",
    "oven_bicarbonate": (
        "{percent:.0f} % is left: bicarbonate, or crystals half dried. Use only what was in the oven: that is "
        "dry soda now."
    ),
    "oven_kind": "{percent:.0f} % is left: {kind}.",
    "oven_between": (
        "{percent:.0f} % is left: between the kinds, so partly dried or damp. A gram counts for that share."
    ),
    "hint_film_um": "dry films are 15 to 100 µm",
    "hint_stock": "it must be at least as strong as the bath, and no {name} is sold above {most:g} wt%",
    "hint_usual_strength": "usual is {usual:g}, counted as dry substance in the finished solution",
    "hint_which_powder": "ask which powder it is, or do the oven check",
    "hint_vessel_holds": "mix what the tray or tank holds",
    "hint_tray_holds": "mix what the tray holds",
    "hint_persulfate": "250 is usual; more does not dissolve well when cold",
    "hint_acid_sold": "hydrochloric acid is not sold above {most:g}",
    "peroxide_cannot_reach": (
        "peroxide of {peroxide_stock:g} wt% and acid of {acid_stock:g} wt% cannot give {peroxide:g} and {acid:g} "
        "wt%: ask for less, or take stronger acid"
    ),
    "hint_gained_weight": "it cannot have gained weight; take the tray off both, and let it cool under a lid",
    "hint_weigh_more": "weigh at least 5 g, or the scales decide the answer",
    "hint_not_sold": "stronger {name} is not sold, or does not stay dissolved; read the label again",
    "hint_weigh_100_ml": "weigh 100 mL at 20 °C again; something else may be in it",
    "hint_litre_holds": "a litre holds no more {name}",
    "hint_lighter_liquids": "lighter liquids have another scale",
    "hint_read_label": "read the label again",
    "hint_read_hydrometer": "read the hydrometer again",
    "baume_modulus": "modulus must be one of {known}, not {modulus:g}: ask for the density if nobody knows",
    "hint_scrap_of_roll": "time it on a scrap of the same roll",
    "hint_break_point": "the break point belongs at 50 to 65 % of the dwell",
    "hint_cleared_after": "it cannot have cleared after it was taken out",
    "weighed_not_poured": "{name} is weighed, not poured",
    "strength_echo": "{wt:.3g} g of dry {name} in 100 g of finished solution",
    "more_dry_than_whole": "parts_dry must not be more than the whole of {whole:g}, not {dry:g}",
    "metal_unknown_in_bath": "metal must not be {metal} here: nobody knows what the {bath} bath does to it",
    "nothing_before_that": "Nothing is worked out before that.",
    "dwell_in_all": (
        "Leave it in for {dwell:.0f} s in all: {shortest:.0f} to {longest:.0f} s keep the break point at 50 to "
        "65 % of the dwell."
    ),
}
