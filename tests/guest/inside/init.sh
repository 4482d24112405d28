#!/bin/bash
# Second program of the guest: sets up simulated hardware, runs the checks, powers off.
export PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8
word() { sed -n "s/.*sumlight\.$1=\([^ ]*\).*/\1/p" /proc/cmdline; }
tests=$(word tests)
cache=$(word cache)
release=$(uname -r)
repository=$(dirname "$(dirname "$tests")")

mount -t tmpfs run /run
mkdir -p /dev/pts /dev/shm /mnt/share "/lib/modules/$release"
mount -t devpts pts /dev/pts
mount -t tmpfs shm /dev/shm
mount --bind "$cache/kernel/lib/modules/$release" "/lib/modules/$release"
mount -t 9p -o trans=virtio,version=9p2000.L,rw,msize=524288 share /mnt/share
ip link set lo up 2>/dev/null
stty -F /dev/ttyS1 -onlcr # the kernel talks on the first serial line, the checks on the second

{
    . "$tests/inside/hardware.sh" &&
        cd "$repository" && export PYTHONPATH=$repository/firmware:$repository &&
        mapfile -t arguments </mnt/share/arguments &&
        "$cache/venv/bin/python" -m pytest -c "$tests/guest.ini" --rootdir "$repository" "${arguments[@]}" | cat
    echo "${PIPESTATUS[0]}" >/mnt/share/status
} >/dev/ttyS1 2>&1
sync
echo o >/proc/sysrq-trigger
sleep 60
