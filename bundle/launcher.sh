#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Starts @PROGRAM@ from wherever this folder lies, with the Java runtime that lies beside it and no other.
#
# The agent first copies itself into memory and runs from there, for two reasons: a stick that is pulled must
# not take the running program with it, and on many sticks nothing may be executed. It removes the copy when it ends;
# after a kill, '@PROGRAM@ clean' does.
set -eu
# Root may have been given another user's environment: tools come from the system's own folders, and nothing that others
# named is loaded. Files are made for nobody else to write to, whatever the umask was.
PATH=/usr/sbin:/usr/bin:/sbin:/bin
export PATH
unset CDPATH JAVA_TOOL_OPTIONS _JAVA_OPTIONS JDK_JAVA_OPTIONS CLASSPATH \
    LD_PRELOAD LD_LIBRARY_PATH LD_AUDIT GCONV_PATH GLIBC_TUNABLES LOCPATH
umask go-w

# Without a locale of its own, Java could not open a path with letters beyond ASCII.
export LC_ALL=C.UTF-8

program=@PROGRAM@
command=${1-}
if ! env pwd >/dev/null 2>&1; then
    echo "$program: the folder that you are in is gone: was the stick pulled? Go to it anew (cd), then try again." >&2
    exit 66
fi
from_memory=@FROM_MEMORY@
self=$0
[ ! -L "$self" ] || self=$(readlink -f -- "$self")
home=$(cd -P -- "$(dirname -- "$self")" && pwd -P)

# Of a folder: does it lie in memory, is it one in which no other user can rename what is ours, and can programs be
# started from it?
is_safe() {
    owner=$(stat -L -c %u -- "$1") && mode=$(stat -L -c %a -- "$1") || return 1
    { [ "$owner" = 0 ] || [ "$owner" = "$(id -u)" ]; } &&
        { [ $((0$mode & 022)) = 0 ] || [ $((0$mode & 01000)) != 0 ]; }
}
in_memory() { [ "$(stat -f -c %T -- "$1" 2>/dev/null)" = tmpfs ]; }
executes() {
    probe=$1/executes
    printf '#!/bin/sh\nexit 0\n' >"$probe" && chmod 700 "$probe" && "$probe" 2>/dev/null
}

# A copy in memory that programs can be started from; empty if there is no such place.
copy_into_memory() {
    for place in /dev/shm "/run/user/$(id -u)" /run /tmp; do
        if ! in_memory "$place" || ! is_safe "$place"; then continue; fi
        copy=$(mktemp -d "$place/loadwitness-$(id -u)-XXXXXXXX" 2>/dev/null) || continue
        # Field 22 of stat is the start time of this process, which becomes the program: a later process with the same
        # number is told apart by it.
        if executes "$copy" && rm "$copy/executes" && read -r stat <"/proc/$$/stat" &&
            printf '%s %s\n' "$$" "$(echo "${stat##*) }" | cut -d ' ' -f 20)" >"$copy/owner" &&
            cp -R -- "$home/runtime" "$copy/" && mkdir "$copy/lib" &&
            cp -R -- "$home/lib/native" "$home/lib/$program.jar" "$copy/lib/" &&
            chmod -R u+rwX "$copy" && chmod u+x "$copy/runtime/bin/"* "$copy/runtime/lib/jspawnhelper"; then
            echo "$copy"
            return
        fi
        rm -rf "$copy"
    done
}

base=
if [ "$from_memory" = yes ] || [ ! -x "$home/runtime/bin/java" ]; then
    base=$(copy_into_memory)
fi
if [ -n "$base" ]; then
    set -- -Dloadwitness.memory="$base" -jar "$base/lib/$program.jar" "$@"
elif [ -x "$home/runtime/bin/java" ]; then
    base=$home
    set -- -jar "$base/lib/$program.jar" "$@"
else
    echo "$program: nothing can be executed from $home, and no folder in memory takes a copy of the program (tried" >&2
    echo "/dev/shm, /run/user, /run and /tmp). Mount the stick so that programs can be started from it" >&2
    echo "(mount -o remount,exec), or copy this folder to a place that allows it." >&2
    exit 69
fi
set -- @JAVA_FLAGS@ -Djna.boot.library.path="$base/lib/native" -Djna.nounpack=true -Djna.nosys=true \
    -Dloadwitness.home="$home" "$@"
# A report is over before the second compiler would have paid for itself (benchmarks/certificate_cost.py).
[ "$command" != certify ] || set -- -XX:TieredStopAtLevel=1 "$@"
if [ "$from_memory" = yes ] || [ "$base" = "$home" ]; then
    exec "$base/runtime/bin/java" "$@" # the agent removes its copy itself, so that no signal is lost on the way to it
fi
trap 'rm -rf "$base"' EXIT
trap : HUP INT TERM
"$base/runtime/bin/java" "$@"
