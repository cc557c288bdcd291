#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The command channel on the second serial port. A line is an id and a command in base64; the answer is the command's
# output between two marks, the second with its exit status. The kernel's messages go to the first port, so they never mix.
exec </dev/ttyS1 >/dev/ttyS1 2>&1
stty raw -echo
mkdir -p /run/machine
echo "@@ready $(cat /proc/sys/kernel/random/boot_id)"
while read -r id command; do
    printf '%s' "$command" | base64 -d >"/run/machine/$id.sh"
    printf '@@%s begin\n' "$id"
    sh "/run/machine/$id.sh" </dev/null
    printf '\n@@%s end %s\n' "$id" "$?"
    rm -f "/run/machine/$id.sh"
done
