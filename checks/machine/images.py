# SPDX-License-Identifier: Apache-2.0
"""Disks and sticks made without mounting anything here: the host's kernel may know neither FAT nor exFAT."""
import pathlib
import struct

from .build import _image_of, run

# Where sticks out of a shop have their partition.
PARTITION_OFFSET_BYTES = 1 << 20
SECTOR_BYTES = 512

FAT32_LBA, EXFAT = 0x0C, 0x07


def ext4_of(folder, image, spare_megabytes=512):
    """An ext4 image of what is in `folder`."""
    _image_of(pathlib.Path(folder), pathlib.Path(image), spare_megabytes)
    return image


def blank_stick(image, megabytes, kind=EXFAT):
    """A stick with one empty partition, not yet formatted."""
    sectors = megabytes * (1 << 20) // SECTOR_BYTES
    first = PARTITION_OFFSET_BYTES // SECTOR_BYTES
    # Master boot record: one entry at byte 446 (status, 3 bytes of unused geometry, kind, 3 more, first sector, sectors).
    entry = struct.pack("<B3sB3sII", 0, b"\xfe\xff\xff", kind, b"\xfe\xff\xff", first, sectors - first)
    with open(image, "wb") as file:
        file.truncate(megabytes << 20)
        file.seek(446)
        file.write(entry)
        file.seek(510)
        file.write(b"\x55\xaa")
    return pathlib.Path(image)


class FatStick:
    """A stick formatted FAT32, filled and read through mtools."""

    def __init__(self, image, megabytes=512):
        self.image = blank_stick(image, megabytes, FAT32_LBA)
        kibibytes = (megabytes << 10) - (PARTITION_OFFSET_BYTES >> 10)
        run("mkfs.vfat", "-F", "32", "-n", "BENCH", "--offset", PARTITION_OFFSET_BYTES // SECTOR_BYTES,
            self.image, kibibytes)
        self._drive = f"{self.image}@@{PARTITION_OFFSET_BYTES}"

    def put(self, folder):
        """Copies a folder with all that is in it into the stick's top folder. Links become the files they point to."""
        run("mcopy", "-s", "-Q", "-i", self._drive, folder, "::")

    def list(self):
        return run("mdir", "-/", "-b", "-i", self._drive, "::").decode(errors="replace").splitlines()
