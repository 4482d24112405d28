#!/bin/busybox sh
# First program of the guest: lays memory over the host's read-only files and starts inside/init.sh on top of that.
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
exec switch_root /root /bin/bash "$(sed -n 's/.*sumlight\.tests=\([^ ]*\).*/\1/p' /root/proc/cmdline)/inside/init.sh"
