#!/bin/busybox sh
# First program of the guest: lays memory over the host's read-only files and starts a script of inside/ on top of that.
/bin/busybox --install -s /bin
export PATH=/bin
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev
for module in /modules/*; do insmod "$module"; done
mount -t 9p -o trans=virtio,version=9p2000.L,ro,cache=loose,msize=524288 host /lower || poweroff -f
mount -t tmpfs -o size=50% memory /upper
mkdir /upper/files /upper/work
mount -t overlay -o lowerdir=/lower,upperdir=/upper/files,workdir=/upper/work,xino=off overlay /root || poweroff -f
for tree in proc sys dev; do mount --move /$tree /root/$tree; done
word() { sed -n "s/.*sumlight\.$1=\([^ ]*\).*/\1/p" /root/proc/cmdline; }
exec switch_root /root /bin/bash "$(word tests)/inside/$(word script)"
