#!/bin/bash
# Second program of the guest: sets up simulated hardware, runs the checks, powers off.
. "$(dirname "$0")/common.sh"
mount -t tmpfs run /run
mount_share
{
    . "$tests/inside/hardware.sh" &&
        cd "$repository" && export PYTHONPATH=$repository/firmware:$repository &&
        for polarity in low high; do
            echo "-- the relay closes on a $polarity level"
            export SUMLIGHT_LIGHTS_WHEN=$polarity
            mapfile -t arguments <"/mnt/share/arguments-$polarity"
            "$cache/venv/bin/python" -m pytest -c "$tests/guest.ini" --rootdir "$repository" "${arguments[@]}" | cat
            echo "${PIPESTATUS[0]}" >"/mnt/share/status-$polarity"
        done
} >/dev/ttyS1 2>&1
power_off
