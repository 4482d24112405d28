"""Of the logbook and of files in the data folder: what is wrong with them, what was done about it, what to do."""

LOGBOOK = {
    "logbook_at": "logbook {path}: {why}",
    "logbook_not_there": "there is none yet. Start the controller first; it makes one.",
    "logbook_outdated": "its version is {version}, needed is {newest}. Start the controller first: it updates it.",
    "logbook_too_new": (
        "its version is {version}, this Sumlight knows up to {newest}. Update Sumlight, or use another file."
    ),
    "logbook_foreign": "this is a database of another program. Use another file; this one is left as it is.",
    "logbook_no_wal": ("a write-ahead log is not possible here (SQLite keeps to '{mode}'). Use a local disk or card."),
    "logbook_disk_silent": "the disk did not answer for {limit_s:g} s. Check it.",
    "logbook_put_back": "{why}. Stop Sumlight, keep a copy of it and put back a backup.",
    "logbook_calls_itself": "it calls itself version {version}",
    "logbook_other_schema": "it has the schema of version {newest}, but calls itself version {version}",
    "logbook_tables_only": "it has the tables of a logbook, but calls itself version {version}",
    "schema_holds": "it holds the {kind} '{name}', unlike any logbook of version {version}",
    "schema_lacks": "it lacks the {kind} '{name}' that every logbook of version {version} has",
    "schema_differs": "its {kind} '{name}' is not made as in logbooks of version {version}",
    "trace_of_exposure": "trace {trace} of {whose}: {why}.",
    "trace_of_side": "trace of side {side}: {why}.",
    "journal_of_side": "journal of side {side}: {why}.",
    "ending_unknown_exposure": "exposure {number} cannot be ended: it is not in there.",
    "fitting_places_once": "tubes fitted in bank '{bank}': name each place once.",
    "compacted_later": (
        "it is compacted, but a page is reading it, so that the file gets shorter only later. "
        "Stop the page and compact again."
    ),
    "compact_needs_room": (
        "compacting needs {wanted_mb:.0f} MB free in {place}; there are {free_mb:.0f} MB. "
        "Free some space, or set SQLITE_TMPDIR to a folder with room. Nothing was changed."
    ),
    "set_aside_failed": "it cannot be set aside ({why}). Check owner and folder.",
}
"""What is wrong with a logbook."""

COPIES = {
    "photos_not_copied": (
        "The photos of panels were not copied: {why}. They belong to the page: run the command with sudo."
    ),
    "photos_not_put_back": "The photos were not put back from {file}: {why}. Those that were there are as they were.",
    "copy_name_taken": "{file}: this file exists already. Give another name, or move it away.",
    "copy_not_there": "{file}: there is no such file.",
    "copy_foreign": "{file}: this is not one of our logbooks: {why}. Use another copy.",
    "copy_not_written": "{file}: the copy cannot be written ({why}). Check the disk.",
    "copy_unsound": "{file}: the copy is damaged: {problems:; }. Use another.",
}
"""What is wrong with a copy of it."""

CARE = {
    "logbook_is_sound": "sound",
    "row_without_owner": "row {row} of {table} refers to a row of {missing} that is not there",
    "logbook_rescued": "The logbook was damaged ({why}). It is now at {file}. Rescued: {rows}.",
    "rescued_exposures": "{count} exposures",
    "rescued_sides": "{count} sides",
    "rescued_traces": "{count} traces",
    "rescued_nothing": "nothing",
    "rescue_gaps": "Places that could not be read: {gaps}; rows without what they belong to: {orphans}.",
    "rescue_no_time": "There was no time for: {tables}.",
    "rescue_rest_of": "the rest of {table}",
    "pruned_traces": "{count} pieces of traces, {size_mb:.1f} MB, of exposures that ended before {day}.",
    "compacted_from_to": "From {before_mb:.1f} to {after_mb:.1f} MB.",
    "leftover_closed": "The interrupted panel '{panel}' (exposure {number}) is closed as given up: {why}.",
}
"""What was found in it and done to it; stored there as well."""

LEFTOVER = {
    "left_time_unreadable": "the time '{text}' on record is not a time",
    "left_text_differs": "the text of its recipe is not the one that it was begun with (the hash differs)",
    "left_other_sides": "its recipe exposes side {sides}; the record has others",
    "left_target_differs": "side {side}: the target on record, {found:g}, is not the recipe's {wanted:g}",
    "left_transmission_differs": "side {side}: the transmission on record, {found:g}, is not the recipe's {wanted:g}",
    "left_no_target": "side {side}: no target on record, but one in the recipe",
    "left_odd_target": "side {side}: a target on record, but none in the recipe",
    "left_odd_state": "side {side}: '{state}' is not a state of a side",
    "left_odd_dose": "side {side}: a dose of {value:g} is impossible",
    "left_odd_doubt": "side {side}: a doubt of {value:g} is impossible",
    "left_odd_light": "side {side}: a time with light of {value:g} is impossible",
    "left_odd_gap": "side {side}: a longest pause of {value:g} is impossible",
    "left_odd_pauses": "side {side}: {value:g} pauses are impossible",
    "left_dose_without_light": "side {side}: a dose of {dose_mj_cm2:g} without any time with light",
}
"""How the record of an interrupted panel contradicts itself."""

DATA = {
    "data_read_only": (
        "nothing can be written to the data folder {folder}: its file system is read-only. Make it writable, or put "
        "the data folder on a disk of its own"
    ),
    "data_in_ram": (
        "The data folder {folder} lies in RAM: every record is lost at the next start of this computer. Put it on a "
        "card or disk, or switch the overlay of the root file system off."
    ),
    "data_may_be_in_ram": (
        "The data folder {folder} lies on an overlay whose place cannot be seen: records may be lost at the next "
        "start. Put it on a card or disk, or switch the overlay off."
    ),
    "records_wait": (
        "The card has taken no record for {seconds} s: a power cut now would lose as much. If this goes on, put "
        "another card in."
    ),
    "logbook_not_copied": (
        "it must be brought to a newer version, and could not be copied to {copy} before: {why}. Free some space, or "
        "see who may write to the folder"
    ),
    "data_unusable": (
        "the data folder {folder} cannot be used: {why}. Check its owner and permissions, or name another with --data."
    ),
    "data_in_use": (
        "another Sumlight is working with the data folder {folder}; stop it first, or name another folder with --data."
    ),
    "data_not_locked": ("the data folder {folder} cannot be locked: {why}. Use a folder on a local disk or card."),
    "recipes_unreadable": "the recipes in {folder} cannot be read: {why}. Check the folder and who may read it.",
    "recipe_not_saved": (
        "recipe '{name}' was not saved: {why}; what was there before is unchanged. "
        "Check free space and permissions of {folder}, then try again."
    ),
    "recipe_not_removed": (
        "recipe '{name}' was not removed: {why}; it is still there. "
        "Check free space and permissions of {folder}, then try again."
    ),
    "recipe_not_moved": (
        "recipe '{name}' was not moved: {why}; it is where it was. "
        "Check free space and permissions of {folder}, then try again."
    ),
    "recipe_name_taken": "a recipe '{name}' exists already; choose another name or edit that one",
    "recipe_changed_meanwhile": "recipe '{name}' was changed while you edited it; look at it again first",
    "recipe_removed_meanwhile": "recipe '{name}' was removed while you edited it; look at it again first",
    "recipe_comments_lost": "the comments of recipe '{name}' would be lost",
    "operators_unreadable": "{file} cannot be read: {why}",
    "operators_spoilt": "{file} is not as Sumlight writes it; {remedy}",
    "operators_none": "{file} names no operator; {remedy}",
    "operators_nameless": "{file} has an operator without a name; {remedy}",
    "operators_password": "{file}: the password of '{name}' is damaged; {remedy}",
    "password_not_checked": "the password of {name} cannot be checked: {why}",
    "operators_remedy": "put it right, or start over with: sumlight setup operators reset",
    "operators_not_yours": "only root or the owner of {folder} may do that; try again with sudo",
    "operators_not_removed": "{file} cannot be removed: {why}",
    "operators_folder": "the folder {folder} cannot be used: {why}; root can",
    "operators_not_written": "{file} cannot be written: {why}",
}
"""Other files of the data folder."""

REACHING = {
    "no_box_running": "no box is running at {socket} ({why}); start it first",
    "box_hung_up": "the box at {socket} hung up",
    "box_hung_up_so": "the box at {socket} hung up ({why})",
    "box_does_not_answer": "the box at {socket} does not answer ({why})",
    "box_speaks_oddly": "the box at {socket} gave an answer that this version does not understand",
    "socket_in_use": "another controller answers at {socket}; stop it first",
    "socket_in_the_way": "{socket} is in the way and is not a socket; choose another path",
    "socket_not_made": "the socket {socket} cannot be made: {why}",
    "pins_not_real": "pin_library '{library}' cannot drive a real box; box.yaml must say 'lgpio'",
    "pins_not_opened": (
        "pin library 'lgpio' cannot be opened ({why}); on the Pi install sumlight[pi] and see hardware/README.md"
    ),
}
"""What keeps a box from being reached or started."""

CONTACTS = {
    "no_input_supply": (
        "the 24 V of the inputs are missing: all {count} contacts read open at once; "
        "check T3, fuse F5, wires 121 to 123 and the plug of A3 at places 14 and 17"
    ),
    "no_supply_or_wires": (
        "both lid contacts read open: either the 24 V of the inputs are missing or both wires are off; "
        "check T3, fuse F5, wires 121 to 123 and the plug of A3 at places 14 and 17. "
        "With an emergency stop or thermostat declared, the two could be told apart"
    ),
    "lid_contacts_closed": (
        "{keys: + }: both contacts are closed, and only one may be; "
        "open and shut the lid firmly, then check S4, S5 and wires 131 to 134"
    ),
    "lid_contacts_open": (
        "{keys: + }: both contacts are open, and one has to be closed; "
        "open and shut the lid firmly, then check S4, S5 and wires 131 to 134"
    ),
    "k1_mirror_open": "{key}: K1 has not dropped, or its mirror's wire is off: check K1 with the plug pulled",
    "emergency_stop_open": (
        "{key}: the emergency stop is pressed, or its wire is off: release it, then check its wires"
    ),
    "thermostat_open": "{key}: the thermostat is open, or its wire is off: let the box cool, then check S6",
}
"""Contacts of a box that were read once, with control stopped."""

WORDS = {**LOGBOOK, **COPIES, **CARE, **LEFTOVER, **DATA, **REACHING, **CONTACTS}
