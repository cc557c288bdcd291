# SPDX-License-Identifier: Apache-2.0
"""An emulated machine for checks: a real kernel, a real root file system, a USB stick that can be pulled.

    with Machine(root=root(), disks=[Disk(image)]) as machine:
        machine.sh("mount /dev/vdb /bundle", timeout=10)
        machine.plug(stick)
        machine.start("run", "/bundle/loadwitness-agent run ...")
        machine.unplug()
        print(machine.wait("run", timeout=120).output)

Standard library only. `build` makes kernel, initramfs and root, `images` makes disks and sticks, `emulator` runs them.
"""
from .build import cache_folder, cache_megabytes, furnished_root, kernel, root
from .emulator import Disk, GuestError, Machine, Result, accelerator
from .images import FatStick, blank_stick, ext4_of

__all__ = [
    "Disk", "FatStick", "GuestError", "Machine", "Result", "accelerator", "blank_stick", "cache_folder",
    "cache_megabytes",
    "ext4_of", "furnished_root", "kernel", "root",
]
