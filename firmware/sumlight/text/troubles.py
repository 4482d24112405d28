"""What keeps records, recipes and readings from coming: the disk, the files, the light sensor."""

WORDS = {
    # the light sensor
    "sensor_not_connected_yet": "not connected yet",
    "sensor_not_as_set": "the light sensor at I2C address 0x{address:02x} is not as it was set: {why}",
    "thermometer_does_not_answer": "the thermometer at I2C address 0x{address:02x} does not answer ({why})",
    "thermometer_out_of_bounds": "the thermometer lies: it says {air_c:.0f} °C",
    "thermometer_jumped": "the thermometer lies: it says {air_c:.0f} °C and said {before_c:.0f} °C before",
    "sensor_does_not_answer": "the light sensor at I2C address 0x{address:02x} does not answer ({why})",
    "smux_does_not_end": "the channel switch (SMUX) does not end its command: bit 4 of ENABLE (0x80) stays set",
    "conversion_takes": "a conversion takes {takes_ms:.1f} ms, wanted {wanted_ms:.1f} ms",
    "register_reads": "{name}, register 0x{register:02x}, reads {reads}, wanted {wanted}",
    # recipes
    "no_such_recipe_among": "no recipe is called '{name}'; there is {known}",
    "no_recipe_at_all": "no recipe is called '{name}'; the shelf is empty",
    "no_recipe_to_remove": "no recipe is called '{name}', so there is nothing to remove",
    # the logbook
    "logbook_failed": "logbook {path}: {what} ({detail}). {remedy}.",
    "not_recorded": "logbook {path}: not recorded: {what}: {why}.",
    "written_would_be_lost": "logbook {path}: {why}; what is written now would be lost. "
    "Put the file back under its name, or restart Sumlight.",
    "logbook_file_gone": "it is gone from its place ({why})",
    "another_file_there": "another file stands in its place",
    "report_not_written": "{path}: the report cannot be written ({why}). Check disk and folder.",
    "disk_is_full": "the disk is full",
    "free_some_space": "Free some space",
    "file_not_writable": "the file cannot be written",
    "check_owner": "Check owner and permissions of it and its folder",
    "not_a_logbook": "this is not a logbook",
    "move_file_away": "Move the file away; a new one is made at the next start",
    "file_is_damaged": "the file is damaged",
    "put_back_backup": "Stop Sumlight, keep a copy of it and put back a backup",
    "file_not_opened": "the file cannot be opened",
    "check_folder": "Check that its folder exists and may be written",
    "disk_refused": "the disk refused to read or write",
    "check_disk_health": "Check its free space and its health",
    "file_held": "another program holds the file",
    "close_that_program": "Close that program",
    "record_does_not_fit": "the record does not fit the logbook",
    "report_program_fault": "This is a fault of the program; report it",
    "it_failed": "it failed",
    "look_at_the_log": "Look at the log",
}
