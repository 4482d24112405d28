#!/usr/bin/env bash
# Makes the emulated machine in CACHE: kernel and modules, the first file system, and Python packages for the guest.
# usage: build.sh CACHE PYTHON REQUIREMENT...      (called by `python -m tests.guest`)
set -euo pipefail
cache=$1 python=$2
shift 2
here=$(cd "$(dirname "$0")" && pwd)
export DEBIAN_FRONTEND=noninteractive
root=() && [ "$(id -u)" = 0 ] || root=(sudo)

say() { printf 'guest: %3d s  %s\n' "$SECONDS" "$*"; }

depended_on() { # what a package of Debian's that only points on points to: names carry the version
    apt-cache depends "$1" | sed -n "s/^ *Depends: \($2[^ ]*\)$/\1/p" | head -n 1
}

"${root[@]}" apt-get update -qq
image=$(depended_on linux-image-amd64 linux-image)
sources=$(depended_on linux-source linux-source)
[ -n "$image" ] && [ -n "$sources" ] || { echo "guest: this Debian offers no kernel or no source of it"; exit 1; }
release=${image#linux-image-}

stamp=$(cat "$here/build.sh" "$here"/kernel/* | sha256sum | cut -d' ' -f1)
stamp="$image $stamp $python $*"
if [ "$(cat "$cache/stamp" 2>/dev/null)" = "$stamp" ]; then
    say "kernel $release and packages are built already"
    exit 0
fi
rm -rf "$cache"
mkdir -p "$cache"/{kernel,modules}

say "packages of Debian"
"${root[@]}" apt-get install -y -qq --no-install-recommends qemu-system-x86 busybox-static cpio kmod make gcc-12 libc6-dev \
    xz-utils systemd python3-venv "linux-headers-$release" >/dev/null

# The guest's Python packages come while the kernel is made; both wait for the network most of the time.
(
    "$python" -m venv "$cache/venv"
    "$cache/venv/bin/pip" install -q --disable-pip-version-check --only-binary=lgpio "$@"
    # What the installer fetches on a Pi, for a guest without a network; hatchling builds the program itself. For the
    # system's own Python, as on a Pi: services under accounts of their own reach no other that lies in somebody's home.
    /usr/bin/python3 -m venv "$cache/system-venv"
    "$cache/system-venv/bin/pip" wheel -q --disable-pip-version-check --only-binary=lgpio -w "$cache/wheels" "$@" hatchling
) >"$cache/pip.log" 2>&1 &
pip=$!

say "kernel $release, unpacked and not installed"
cd "$cache"
apt-get -o APT::Sandbox::User=root download -qq "$image" "$sources"
dpkg-deb --fsys-tarfile "${image}"_*.deb | tar -x -C kernel --exclude='*/drivers/gpu' --exclude='*/drivers/media' \
    --exclude='*/drivers/net/ethernet' --exclude='*/drivers/net/wireless' --exclude='*/sound'
rm "${image}"_*.deb

say "simulated GPIO chip out of the kernel's source"
dpkg-deb --fsys-tarfile "${sources}"_*.deb | tar -xO --wildcards './usr/src/linux-source-*.tar.xz' | xz -dc -T0 |
    tar -x -C modules --strip-components=3 --occurrence=1 --wildcards --no-wildcards-match-slash \
        '*/drivers/gpio/gpio-sim.c' '*/drivers/gpio/gpiolib.h' '*/kernel/irq/irq_sim.c' || true # it stops reading early
ls modules/gpio-sim.c modules/gpiolib.h modules/irq_sim.c >/dev/null
rm "${sources}"_*.deb

say "modules"
# Debian builds neither gpio-sim nor the interrupts it simulates. Both go into one module; the one kernel function
# among them that modules may not call has an exported sister.
sed -i 's/handle_simple_irq(irq_to_desc(irqnum))/generic_handle_irq_safe(irqnum)/' modules/irq_sim.c
# A parameter makes released outputs keep their level, as Raspberry Pi's kernels have it by default.
sed -i '/^static void gpio_sim_free(/,/^}/ s/^\t__assign_bit/\tif (!keep_released)\n\t&/' modules/gpio-sim.c
sed -i 's/^static void gpio_sim_free(/static bool keep_released;\nmodule_param(keep_released, bool, 0644);\n\n&/' modules/gpio-sim.c
[ "$(grep -c keep_released modules/gpio-sim.c)" = 3 ] || { echo "guest: gpio-sim.c has changed; mend build.sh"; exit 1; }
cp "$here/kernel/user_i2c.c" modules/
printf 'obj-m += gpio_sim_whole.o user_i2c.o\ngpio_sim_whole-y := gpio-sim.o irq_sim.o\n' >modules/Makefile
make -s -C "/usr/src/linux-headers-$release" M="$cache/modules" modules >modules/make.log 2>&1 ||
    { cat modules/make.log; exit 1; }
mkdir -p "kernel/lib/modules/$release/updates"
cp modules/*.ko "kernel/lib/modules/$release/updates/"
depmod -b kernel "$release"

say "first file system"
mkdir -p first/{bin,dev,lower,modules,proc,root,sys,upper}
cp /bin/busybox first/bin/
cp "$here/first.sh" first/init
chmod +x first/init
position=100
modprobe -d kernel -S "$release" --show-depends -a virtio_pci 9pnet_virtio 9p overlay | awk '/^insmod/ && !seen[$2]++ { print $2 }' |
    while read -r module; do
        cp "$module" "first/modules/$position-$(basename "$module")"
        position=$((position + 1))
    done
(cd first && find . | cpio -o -H newc --quiet | gzip -1) >first.gz
rm -rf first
echo "$release" >release

wait "$pip" || { cat pip.log; exit 1; }
say "built in $cache ($(du -sh "$cache" | cut -f1))"
echo "$stamp" >stamp
