#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Init of a root without systemd: the file systems that programs expect, then the command channel for good.
export PATH=/usr/sbin:/usr/bin:/sbin:/bin
mount -t tmpfs -o mode=755 tmpfs /run
mount -t tmpfs -o mode=1777 tmpfs /tmp
mkdir -p /dev/pts /dev/shm
mount -t devpts devpts /dev/pts
mount -t tmpfs -o mode=1777 tmpfs /dev/shm
while :; do
    setsid /usr/local/sbin/machine-shell
done
