#!/bin/busybox sh
# SPDX-License-Identifier: Apache-2.0
# The initramfs's only program: load the modules in the order given, mount the root disk, go on in there.
b=/bin/busybox
$b mount -t proc proc /proc
$b mount -t sysfs sysfs /sys
$b mount -t devtmpfs dev /dev
while read -r module; do
    $b insmod "/modules/$module" || echo "machine: module $module did not load"
done </modules/order
tries=0
until [ -b /dev/vda ]; do
    tries=$((tries + 1))
    if [ "$tries" -gt 200 ]; then
        echo "machine: no root disk /dev/vda"
        $b poweroff -f
    fi
    $b usleep 50000
done
$b mount -t ext4 /dev/vda /root || { echo "machine: /dev/vda cannot be mounted"; $b poweroff -f; }
for folder in proc sys dev; do $b mount -o move "/$folder" "/root/$folder"; done
exec $b switch_root /root /sbin/init
