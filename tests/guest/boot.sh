#!/usr/bin/env bash
# Boots the machine that build.sh made, on this machine's own files (read-only), and ends when it powers itself off.
# usage: boot.sh CACHE SHARE SCRIPT    (called by `python -m tests.guest`)
# SCRIPT, of inside/, is the first program on the host's files.
# The folder SHARE is writable from both sides. Always emulated: where the host has no virtualisation that works, /dev/kvm
# may exist all the same. Its time goes by the instructions it has carried out (-icount, a thousand million a second), so
# that it is as fast a computer as control asks for, whatever the host has to do meanwhile. While it waits for the host's
# files its time runs ahead: limits on starting programs are generous. Not so under systemd, which has limits of its own:
# there idle time passes as it does outside.
set -euo pipefail
cache=$1 share=$2 script=$3
sleep=off && [ "$script" != systemd.sh ] || sleep=on
here=$(cd "$(dirname "$0")" && pwd)
release=$(cat "$cache/release")
exec qemu-system-x86_64 -M q35 -accel tcg,thread=single,tb-size=512 -icount shift=0,sleep=$sleep -cpu max -smp 1 -m 2048 \
    -display none -no-reboot -nodefaults -monitor none -nic none -serial "file:$share/console.txt" -serial stdio \
    -kernel "$cache/kernel/boot/vmlinuz-$release" -initrd "$cache/first.gz" \
    -append "console=ttyS0 quiet loglevel=4 panic=-1 mitigations=off nokaslr tsc=reliable sumlight.tests=$here sumlight.cache=$cache sumlight.script=$script" \
    -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap \
    -virtfs "local,path=$share,mount_tag=share,security_model=none,multidevs=remap"
