#!/usr/bin/env bash
# Boots the machine that build.sh made, on this machine's own files (read-only), and ends when it powers itself off.
# usage: boot.sh CACHE PYTEST-ARGUMENT...          (called by `python -m tests.guest`)
# CACHE/share is writable from both sides. Always emulated: where the host has no virtualisation that works, /dev/kvm
# may exist all the same.
set -euo pipefail
cache=$1
shift
here=$(cd "$(dirname "$0")" && pwd)
release=$(cat "$cache/release")
printf '%s\n' "$@" >"$cache/share/arguments"
exec qemu-system-x86_64 -M q35 -accel tcg,thread=multi,tb-size=512 -cpu max -smp 2 -m 1536 \
    -display none -no-reboot -nodefaults -monitor none -nic none -serial "file:$cache/share/console.txt" -serial stdio \
    -kernel "$cache/kernel/boot/vmlinuz-$release" -initrd "$cache/first.gz" \
    -append "console=ttyS0 quiet loglevel=4 panic=-1 mitigations=off nokaslr tsc=reliable sumlight.tests=$here sumlight.cache=$cache" \
    -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap \
    -virtfs "local,path=$cache/share,mount_tag=share,security_model=none,multidevs=remap"
