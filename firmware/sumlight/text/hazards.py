"""Of what can hurt: names of baths and metals, cautions, refusals, waste."""

WORDS = {
    "developer": "developer",
    "stripper": "stripper",
    "caustic_bath": "caustic bath",
    "iron_chloride": "ferric chloride",
    "persulfate": "persulfate",
    "peroxide_bath": "peroxide bath",
    "copper_chloride": "copper chloride",
    "acid": "acid",
    "peroxide_stock": "peroxide from the bottle",
    "bleach": "bleach",
    "copper": "copper",
    "brass": "brass",
    "bronze": "bronze",
    "nickel_silver": "nickel silver",
    "steel": "steel",
    "stainless_steel": "stainless steel",
    "nickel": "nickel",
    "aluminium": "aluminium",
    "zinc": "zinc",
    "tin_lead": "tin-lead",
    "metal_not_in_bath": "Refused: {metal} does not go into {bath}: {why}.",
    "aluminium_boils_over": "it heats the bath until it boils over, and gives off hydrogen. Take another metal",
    "dissolves_in_lye": "it dissolves in lye and gives off hydrogen. Take another bath",
    "must_not_meet": "Refused: {one} and {other} must not meet: {why}.",
    "iron_and_peroxide": "iron or copper makes peroxide fall apart at once: oxygen, heat and acid spray",
    "acid_and_lye": "acid and lye together boil and spit",
    "acid_and_bleach": "any acid with bleach gives off chlorine",
    "copper_and_peroxide": "copper makes peroxide fall apart, and with the acid there it gives off chlorine",
    "iron_and_persulfate": "persulfate and ferric chloride react: heat and gas",
    "two_oxidants": "two oxidants together, with copper between them, fall apart: heat and gas",
    "acid_and_persulfate": "hydrochloric acid with persulfate gives off chlorine",
    "acid_and_peroxide": "strong acid with peroxide gives off chlorine; only the bath's own recipe may join them",
    "acid_and_soda": "acid and soda foam over",
    "peroxide_and_bleach": "peroxide and bleach give off oxygen so fast that it bursts a bottle",
    "alkali_and_etchant": "alkali in an etchant foams, throws out metal sludge and spoils both",
    "alkali_and_peroxide": "soda or lye makes peroxide fall apart: heat and oxygen",
    "caution_chlorine": (
        "Chlorine: strong acid with peroxide, and any acid with bleach, give off a poisonous yellow-green gas. "
        "Outdoors or under a hood only. If it smells sharp, leave, and let the air clear."
    ),
    "caution_soda": "Gloves and goggles: soda at this strength burns eyes.",
    "caution_developer_waste": "Used developer holds resist: no drain.",
    "caution_lye": "Gloves and goggles: lye burns do not hurt at first.",
    "caution_lye_into_water": "Lye into water, never water onto lye.",
    "caution_lye_hydrogen": "With aluminium it gives off hydrogen: no flame, open air, a vented cap.",
    "caution_etchant": "Gloves, goggles, and no metal tools.",
    "caution_stains": "It stains skin, steel and stone for good.",
    "caution_gasses": "It gasses while it stands: vented cap, never a tight lid.",
    "caution_gasses_faster": (
        "It gasses while it stands, faster when warm or with metal in it: open tray or vented cap, never a tight lid."
    ),
    "caution_warms_up": "It warms up by itself. Above 35 °C take the panel out and set the tray in cold water.",
    "caution_peroxide": "Gloves, goggles, apron, open air, no metal tools.",
    "caution_acid_fumes": "Gloves, goggles, open air, no metal tools: it fumes of acid.",
    "caution_vented_cap": "A vented cap, never a tight lid.",
    "caution_cut_edges": "Gloves: fresh edges cut. Goggles while you cut.",
    "caution_hot_rollers": "Over 100 °C: fingers, sleeves and hair away from hot rollers and plates.",
    "caution_uv_light": "UV harms eyes and skin: the lid stays shut, and nobody looks into lit lamps.",
    "waste_label": "WASTE: {bath}, used",
    "waste_label_cap": "Vented cap. Never a tight lid.",
    "waste_vessel": "plastic (polyethylene) with a vented cap, no more than three quarters full",
    "tight_lid_holds": (
        "Why the cap is vented: if all of it fell apart in a container three quarters full, a tight lid would have to "
        "hold back {times:.0f} times the pressure of the air. It bursts long before."
    ),
    "tight_lid_holds_usually": (
        "Why the cap is vented: if a bath mixed as usual fell apart in a container three quarters full, a tight lid "
        "would have to hold back {times:.0f} times the pressure of the air. It bursts long before."
    ),
    "waste_authority": (
        "Metal-bearing waste never goes into the drain. Your local waste authority decides how it is treated and taken."
    ),
    "waste_of_another_kind": (
        "Refused: the container for {other} takes nothing else, no {bath}. Each kind has its own: mixed waste "
        "costs more to take, and nobody knows any more what is in it."
    ),
    "peroxide_stock_too_strong": (
        "Refused: peroxide of {wt:g} wt% is too strong to mix from; at most {limit:g} wt%. Buy it weaker: do not "
        "thin it at home."
    ),
    "peroxide_bath_too_strong": (
        "Refused: the finished bath would hold {peroxide:.3g} wt% peroxide (at most {peroxide_limit:g}) and "
        "{acid:.4g} wt% hydrochloric acid (at most {acid_limit:g}). Add water, or take less of it."
    ),
    "bath_too_warm": (
        "Refused: {grams:.3g} g of copper in {litres:g} L could warm it by {rise:.0f} K, and warm peroxide falls "
        "apart faster still; at most {limit:g} K. Etch less at a time, or take more bath."
    ),
    "bath_may_warm_much": (
        "The bath may warm by {rise:.0f} K if no heat gets away: set the tray in cold water, keep a thermometer "
        "in it, take the panel out above 35 °C."
    ),
    "bath_may_warm": "The bath may warm by {rise:.0f} K if no heat gets away.",
    "bottle_bursts": "a bottle filled to the brim bursts at once",
    "ask_authority_first": (
        "No answer yet: first ask your local waste authority whether it allows treating this waste at home. If not, "
        "it goes to them as it is."
    ),
    "lye_in_acid": "Refused: solid lye in an acid bath boils and spits. Take soda or bicarbonate.",
    "neutralising": (
        "About {grams:.0f} g of {powder} and {litres:.0f} L of gas. {how} An open plastic vessel of at least "
        "{vessel:.3g} L, outdoors, in small portions, the next only when the foam is down. {waste}"
    ),
    "foams_gets_cold": "It foams, and gets cold: no warmth tells how far it is.",
    "foams_gets_warm": "It foams and gets a little warm.",
    "gets_hot": "It gets hot: let it cool between portions.",
    "may_go_into": "{metal} may go into {bath}.",
    "never_together": "Never: {why}.",
    "nothing_known_against": "Nothing is known against it. That is no licence to mix: ask, and try a spot outdoors.",
    "waste_container": "Container: {vessel}.",
    "waste_label_reads": "Label:",
}
