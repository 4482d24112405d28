"""Of commissioning: what each step asks for, what it found, and what its report says."""

STEPS = {
    "lid_shut_title": "The lid reads shut",
    "shut_lid": "Shut the lid.",
    "lid_contacts_hint": "Look at both lid contacts: shut_pin and open_pin may be swapped, a contact may be stuck or "
    "bridged.",
    "k1_rest_title": "K1's mirror shows it dropped at rest",
    "k1_rest_do": "Nothing: lamps and heartbeat are off. Go on.",
    "k1_rest_hint": "Mains off, then an electrician looks at the mirror's wire (one that is off reads as closed) and "
    "at K1: if it is welded it must be replaced.",
    "lid_open_title": "The lid reads open",
    "open_lid_wide": "Open the lid wide.",
    "shut_contact_held_title": "A stuck 'shut' contact is noticed",
    "hold_shut_contact": "Hold the contact on shut_pin pressed as the lid does, and open the lid.",
    "lid_contact_of_its_own": "A contact is not what it should be: each lid contact must have a wire and a switch of "
    "its own.",
    "let_contact_go": "Let the contact go and shut the lid.",
    "open_contact_held_title": "A stuck 'open' contact is noticed",
    "hold_open_contact": "Hold the contact on open_pin as the shut lid does, and open the lid.",
    "over_temperature_title": "Heat is noticed",
    "open_s6": "Open the over-temperature contact S6: press its test button, or turn its dial down.",
    "over_temperature_hint": "Look at over_temperature_pin and whether the contact is one that opens when hot.",
    "let_s6_go": "Let the button of S6 go, or turn its dial back.",
    "has_s6_a_button": "Can the over-temperature contact S6 be opened by a test button or a dial, from outside? Never "
    "loosen a wire for it.",
    "wire_in_series": "Do not use the box: mains off, and an electrician wires it in series with K1's coil, as "
    "mains.svg shows.",
    "lid_alone_title": "The lid switch alone drops K1",
    "lift_lid_briskly": "Lift the lid by a hand's width, briskly.",
    "lid_switch_s3": "the lid switch S3",
    "stop_alone_title": "The emergency stop alone drops K1",
    "press_stop": "Press the emergency stop.",
    "release_stop": "Release the emergency stop.",
    "stop_contact_s2": "the contact of the emergency stop S2",
    "cut_out_alone_title": "The thermal cut-out alone drops K1",
    "press_f3": "Press the test button of the thermal cut-out F3.",
    "reset_f3": "Close the cut-out again with its reset button.",
    "cut_out_f3": "the thermal cut-out F3",
    "has_f3_a_button": "Has the thermal cut-out F3 a test button, to be pressed from outside? Never loosen a wire for "
    "it.",
    "bank_relay_title": "The bank relays darken by themselves",
    "light_ends_by_itself": "Nothing: the light ends by itself, K1 is still held.",
    "lamps_burn_on_hint": "Lamps that burn on: the relay may be welded, or its board's own pull may be missing.",
    "k1_mirror_title": "K1 drops and its mirror tells",
    "permit_is_withdrawn": "Nothing: the permit is withdrawn by the controller.",
    "k1_mirror_hint": "Look at k1_mirror_pin (a normally closed mirror contact), at the charge pump, and at K1 itself.",
    "lid_under_light_title": "The lid darkens the lamps",
    "lift_lid_a_finger": "Lift the lid by a finger's width. Do not look in.",
    "lid_under_light_hint": "Look at the lid contacts and at the lid switch in K1's coil circuit.",
    "emergency_stop_title": "The emergency stop darkens the lamps",
    "emergency_stop_hint": "Look at emergency_stop_pin and at the stop's contact in K1's coil circuit.",
    "sensor_pulled_title": "A lost sensor darkens the lamps",
    "pull_sensor_plug": "Pull the sensor's plug.",
    "sensor_pulled_hint": "The lamps must not burn without readings: look at limits.bridge_limit_s.",
    "plug_sensor_in": "Plug the sensor in again and wait until the page shows its readings.",
    "light_blocked_title": "A covered sensor darkens the lamps",
    "push_card_in": "Push a black card between lamps and sensor, through the sensor's slot and with the lid shut.",
    "light_blocked_hint": "Look whether the sensor sees this bank's lamps and nothing else.",
    "take_card_out": "Take the card out.",
    "process_killed_title": "The lamps go dark when the controller is killed",
    "kill_controller": "Kill the controller: sudo systemctl kill -s KILL sumlight-control (or kill -9 its process). "
    "Watch the lamps, then wait for it to come back.",
    "process_killed_hint": "The charge pump must let K1 drop when the enable line stands still: look at its parts and "
    "at K1.",
    "light_leak_title": "No harmful light leaks out",
    "go_around_the_box": "In a dark room and with UV glasses on, go around the shut box with a UV-A radiometer, at the "
    "distance of a face. Enter the highest reading in mW/cm².",
    "light_leak_hint": "Seal lid, cable holes and seams with opaque material, then measure again.",
    "tubes_title": "The sensor sees each tube of bank {bank}",
    "tubes_do": "Nothing: the sensor of bank {bank} looks at the tubes.",
    "tubes_hint": "Start again when all is cold; rest the tubes as long each time, and change nothing else between two "
    "lights. If the lamps stayed dark, tubes share a ballast, or the sensor sees only the tube that was out.",
    "may_tubes_come_out": "The {tubes} tubes of bank {bank} are to be taken out one by one, each for one light, with "
    "the lamps' mains isolated and the tubes cold. Can that be done now?",
    "no_light_hint": "Look at `lights_when` of the bank in box.yaml (the wrong level lights the lamps at rest "
    "instead), at relay_pin, K1, fuse and tubes, and at the sensor's place. Mains: only an electrician.",
    "k1_silent_hint": "K1's mirror says dropped although K1 is held: the mirror is bridged or wired wrongly. Mains "
    "off, then an electrician looks at it.",
    "k1_welded_hint": "K1's mirror says closed although nothing feeds its pump: K1 is welded, or the mirror's wire is "
    "off. Mains off, then an electrician looks at both.",
}
"""Titles, what is to be done, and where to look when a step fails."""

ON_THE_WAY = {
    "prepare_for_light": "Shut the lid and stand back. The lamps will light: nobody looks in. Go on when ready.",
    "prepare_for_k1": "Shut the lid and stand at the box, not over it. K1 will be held for at most 20 s, all lamps "
    "stay off. Go on when ready, and do the following as soon as the box says so, not before.",
    "all_tubes_in": "All tubes of bank {bank} are in, and cold. They will burn for {lit_s:.0f} s.",
    "take_tube_out": "Isolate the lamps from the mains and let the tubes cool. Take out tube {out} of bank {bank}, "
    "counted from the side where across_mm is negative, then connect the lamps again. The rest will burn for "
    "{lit_s:.0f} s.",
    "tube_back_and_out": "Isolate the lamps from the mains and let the tubes cool. Put tube {back} of bank {bank} back "
    "and take out tube {out}, then connect the lamps again. The rest will burn for {lit_s:.0f} s.",
    "last_tube_back": "Isolate the lamps from the mains and let the tubes cool. Put tube {back} of bank {bank} back: "
    "now all are in. Then connect the lamps again. They will burn for {lit_s:.0f} s.",
    "wait_k1_closing": "Wait: K1 is closing.",
    "wait_lamps_lighting": "Wait: the lamps are lighting.",
    "wait_watching": "Wait: the controller is watching.",
    "did_lamps_go_dark": "Did all lamps go dark within a second of the kill?",
}

FOUND = {
    "reads_shut": "shut",
    "reads_open": "open",
    "reads_disagree": "disagree",
    "lid_reads": "The lid reads {seen}.",
    "lid_reads_wrongly": "The lid reads {seen}, but it is {real}.",
    "lid_read_shut_with_one_held": "The lid read shut although it was open with one contact held.",
    "by_electrician": "Not proved here: by the electrician, mains off.",
    "left_out_of_box_yaml": "Not proved here: box.yaml leaves out {key}.",
    "mirror_shows_dropped": "K1's mirror shows it dropped.",
    "mirror_shows_closed": "K1's mirror shows it closed although nothing feeds its pump.",
    "dropped_by_this_alone": "K1 dropped by this contact alone, while the heart beat on.",
    "dropped_lid_not_opened": "K1 dropped by itself: the lid was not opened.",
    "dropped_stop_not_pressed": "K1 dropped by itself: the emergency stop was not pressed.",
    "dropped_too_late": "Too slow: K1 dropped {time_s:.2f} s after the contact opened.",
    "lid_opened_k1_held": "The lid was opened, but K1 stayed held for {limit_s:g} s: {part} is missing in K1's coil "
    "circuit, or bridged.",
    "stop_pressed_k1_held": "The emergency stop was pressed, but K1 stayed held for {limit_s:g} s: {part} is missing "
    "in K1's coil circuit, or bridged.",
    "heat_opened_k1_held": "The over-temperature contact opened, but K1 stayed held for {limit_s:g} s: {part} is "
    "missing in K1's coil circuit, or bridged.",
    "k1_held_all_the_time": "K1 stayed held for {limit_s:g} s: {part} is missing in K1's coil circuit, or bridged, or "
    "nobody pressed its button.",
    "lid_not_opened_in_time": "The lid was not opened within {limit_s:g} s.",
    "stop_not_pressed_in_time": "The emergency stop was not pressed within {limit_s:g} s.",
    "another_contact_opened": "Another contact than the one asked for opened: {names}.",
    "act_as_soon_as_told": "Start again, and act as soon as the box says so.",
    "mirror_not_dropped": "K1's mirror did not show it dropped at first.",
    "mirror_not_held": "K1's mirror did not show it held although the heart beat.",
    "mirror_may_be_bridged": "The mirror may be bridged, or K1 does not follow: mains off, then an electrician looks "
    "at both.",
    "contact_opened_too_early": "A contact opened before K1 was held.",
    "light_while_k1_held": "Light was seen while K1 was held with all lamps off.",
    "welded_or_room_light": "With the lid shut a bank relay may be welded: mains off, an electrician looks at it. With "
    "the lid open it was the room's light: darken the room and start again.",
    "k1_let_go": "K1 was let go: {why}.",
    "k1_let_go_for_dark": "K1 was let go because somebody wanted dark.",
    "read_fault_begin_anew": "Read the fault on the page, then start again.",
    "begin_anew": "Start again.",
    "k1_not_seen_held": "K1 was not seen held with all lamps off and dark.",
    "k1_not_seen_held_hint": "Look at K1's mirror, at the charge pump, and whether the sensor sees light of the room.",
    "bank_is_on": "a lamp bank is switched on",
    "light_was_seen": "light was seen",
    "no_reading": "a light meter gives no reading",
    "fault_stands": "a fault is standing",
    "loop_held_up": "the control loop was held up",
    "k1_disobeyed": "K1 did not do what it must",
    "lamps_lit_unsoundly": "The lamps did not light properly: fault {names}.",
    "lamps_did_not_stay_on": "The lamps did not stay on (the box is {state}).",
    "fault_raised": "Fault {name} was raised.",
    "fault_not_in_time": "No fault {name} came within {limit_s:g} s (lid reads {lid}).",
    "light_cut_by_fault": "The light did not end by itself: fault {names}.",
    "light_did_not_end": "The light did not end by itself.",
    "light_not_ended_in_time": "The light did not end in time (the box is {state}).",
    "dark_k1_held": "Dark in time, K1 still held.",
    "out_for_another_reason": "The lamps went out for another reason: {names}.",
    "nothing_noticed": "Nothing was noticed within {limit_s:g} s.",
    "lamps_stayed_on": "The lamps stayed on for {time_s:g} s.",
    "fault_not_raised": "Fault {name} was not raised; there is none.",
    "other_fault_raised": "Fault {name} was not raised; there is {names}.",
    "unexpected_fault": "An unexpected fault came: {names}.",
    "too_slow": "Too slow: {what}.",
    "dark_in_time": "Dark in time.",
    "lamps_went_out": "The lamps went out meanwhile: {names}.",
    "not_killed": "The controller was not killed within {limit_s:g} s.",
    "lamps_burnt_on": "The person saw lamps burn on after the kill.",
    "dark_and_mirror_dropped": "The person saw the lamps go dark; and K1's mirror shows it dropped.",
    "dark_without_mirror": "The person saw the lamps go dark; K1 has no mirror.",
    "tubes_left_in": "Not proved here: the tubes were not taken out.",
    "tubes_prove_nothing": "Not proved here.",
    "tubes_changed": "With all tubes in there were {first:.2f} mW/cm² at first and {last:.2f} at the end.",
    "tubes_do_not_add_up": "The parts of all tubes make {total:.0%} of the light instead of 100 % ({parts}).",
    "tube_part": "tube {place}: {part:.0%}",
    "tubes_seen": "The sensor of bank {bank} sees {seen} of {tubes} tubes. What each gives of its light: {parts}.",
    "tubes_unseen": "Not seen: {unseen}. Correct `sight` or the sensor's place: whether these burn, the "
    "box cannot tell.",
    "tubes_slight": "Seen, but less than the {limit:.0%} of drop_limit: {slight}. If one of these goes out under "
    "light, no fault may tell.",
    "eyes_in_this_light": "Eyes may be in this light for {time} ({limit} limit, at 365 nm).",
}
"""What a step found, and where to look for what it did not expect."""

MEASURED = {
    "noticed": "Noticed",
    "half_of_light": "Less than half of the light",
    "k1_after_contact": "K1 dropped after the contact",
    "told_to_go_dark": "Lamps told to go dark",
    "k1_after_that": "K1 dropped after that",
    "leaking_light": "Leaking light",
    "measure_kept": "{what}: {value:.3g} {unit} (limit {limit:.3g} {unit})",
    "measure_not_kept": "{what}: {value:.3g} {unit} (limit {limit:.3g} {unit}, NOT KEPT)",
}

REFUSED = {
    "commissioning_under_way": "Commissioning is under way.",
    "finish_or_abort_first": "Finish commissioning first, or give it up.",
    "no_commissioning_under_way": "No commissioning is under way.",
    "begin_one_first": "Begin one first.",
    "older_walk": "This box was commissioned by an older walk that proved less.",
    "not_commissioned": "This box has not been commissioned for its present wiring.",
    "commission_or_override": (
        "Commission it (page Box, or `sumlight setup commission`). If you must light before then, you can override it; "
        "that goes on record."
    ),
    "walk_has_gone_on": "The commissioning has gone on meanwhile.",
    "look_at_step_due": "Look at the step that is now due.",
    "colour_is_silent": "The colour sensor beside the UV sensor gives no reading.",
    "a_meter_is_silent": "A light meter gives no reading.",
    "check_sensor_cable": "Check the sensor's cable.",
    "light_with_lamps_off": "There is light with all lamps off.",
    "darken_the_room": "Darken the room; a relay may be welded.",
    "not_locked": "Exposures are not locked.",
    "nothing_to_override": "There is nothing to override.",
    "tubes_still_warm": "The tubes are still warm: wait {left_s:.0f} s more.",
    "waits_for_something_else": "This step waits for something else.",
    "answer_needed": "An answer is needed.",
    "yes_or_no": "Say yes or no.",
    "only_at_the_box": "K1 is held only for somebody who stands at the box.",
    "go_there_and_say_so": "Go there and say so.",
    "k1_never_seen_held": "K1 has not been seen held with all lamps off.",
    "begin_commissioning_anew": "Start commissioning again.",
    "reading_needed": "A reading is needed.",
    "enter_leak": "Enter leak_mw_cm2, the highest reading in mW/cm² ({allowed}).",
    "say_who_does_it": "'who' must name the person who does it",
    "say_it_in_words": "'{field}' must say it in words",
}

STANDING = {
    "without_k1": "No contactor K1 is declared: a welded lamp relay could not be switched off by this controller.",
    "without_mirror": "This box does without K1's mirror contact: a welded contactor would not be noticed.",
    "without_stop_signal": "This box does without an emergency-stop signal: pressing it is seen only as missing light.",
    "without_heat_signal": "This box does without an over-temperature signal: heat is not watched.",
    "sensor_sees_some": (
        "Sensor {meter} sees {seen} of {tubes} tubes. Not seen: {unseen}. Whether these burn, the box cannot tell: "
        "expose a step tablet under them now and then."
    ),
    "tubes_shown_unseen": "Taking tubes out of bank {bank} one by one showed that its sensor does not see these: "
    "{unseen}. Whether they burn, the box cannot tell: correct `sight` or the sensor's place.",
    "incomplete_always": "Commissioning is incomplete; not proved here: {titles}",
    "unlocked_by": "Not commissioned for its present wiring; unlocked by {who} on {day}: {reason}",
    "older_walk_locked": "This box was commissioned by an older walk that proved less: exposures are locked until it "
    "is commissioned again. Not proved so far: {titles}",
    "not_commissioned_locked": "This box has not been commissioned for its present wiring: exposures are locked.",
}
"""What is shown at all times."""

REPORT = {
    "report_title": "Commissioning of {box}",
    "report_title_incomplete": "Commissioning of {box}: incomplete",
    "report_passed": "Passed. Exposures are unlocked for the wiring below.",
    "report_incomplete": "Incomplete. Nothing failed and exposures are unlocked, but what the steps below call not "
    "proved is left to a licensed electrician, mains off.",
    "report_failed": "Failed. Do not use the box: put right what the last step names, then start again.",
    "report_not_finished": "Not finished.",
    "report_passed_of_old": "Passed. This record is an older one: what its walk left out stands only in the file of "
    "its report.",
    "report_box": "Box",
    "report_simulated": "{box} (simulated)",
    "report_who": "Done by",
    "report_begun": "Begun",
    "report_ended": "Ended",
    "report_wiring": "Wiring",
    "step_passed": "passed",
    "step_not_proved": "not proved",
    "step_failed": "FAILED",
    "report_not_covered": "What this program cannot prove: that lid switch, stop and cut-out keep working after today, "
    "that the fuse fits, that the mains side follows the code of the place. A licensed electrician checks those. No "
    "certification to any safety standard is claimed.",
    "report_eyes": "Limits for eyes and skin: ICNIRP 2004 as taken over by Directive 2006/25/EC and IEC 62471:2006, "
    "for eight hours a day: 10 000 J/m² from 315 to 400 nm, and 30 J/m² weighted with S(λ). They do not protect people "
    "whom medicines or illness make sensitive to light, nor eyes after a cataract operation.",
}

WORDS = {**STEPS, **ON_THE_WAY, **FOUND, **MEASURED, **REFUSED, **STANDING, **REPORT}
