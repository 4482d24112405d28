#!/bin/bash
# Installs the box as a person does who follows the guide, and checks what runs then. Started by systemd.
. "$(dirname "$0")/common.sh"
mount_share
exec >/dev/ttyS1 2>&1
export SUMLIGHT_LIGHTS_WHEN=high # as the box.yaml that is shipped says

more_than_a_pi() { # what udev does on a Pi, and what emulation needs
    local name
    for name in gpio i2c; do getent group $name >/dev/null || groupadd --system $name; done
    chgrp gpio /dev/gpiochip* && chmod 660 /dev/gpiochip*
    chgrp i2c /dev/i2c-1 && chmod 660 /dev/i2c-1
    mkdir -p /etc/systemd/system/sumlight-control.service.d
    # Services see a /proc of their own, without the board that hardware.sh has put there; and the clock runs ahead
    # while the machine waits for the host's files.
    cp /run/cpuinfo /etc/board-of-the-guest
    cat >/etc/systemd/system/sumlight-control.service.d/guest.conf <<'UNIT'
[Service]
BindReadOnlyPaths=/etc/board-of-the-guest:/proc/cpuinfo
TimeoutStartSec=infinity
UNIT
}

. "$tests/inside/hardware.sh" &&
    more_than_a_pi &&
    cd "$repository" &&
    echo "-- installs, uses and removes the box as the guide says" &&
    # A Pi would ask the package index; the same packages lie in the cache.
    export PYTHONPATH=$repository/firmware:$repository PIP_NO_INDEX=1 PIP_FIND_LINKS=$cache/wheels &&
    "$cache/venv/bin/python" -m pytest -c "$tests/guest.ini" --rootdir "$repository" \
        tests/guest/inside/check_install{ing,ed}.py tests/guest/inside/check_guide.py | cat
echo "${PIPESTATUS[0]}" >/mnt/share/status-installed
power_off
