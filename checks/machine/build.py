# SPDX-License-Identifier: Apache-2.0
"""Kernel, initramfs and root file system of the emulated machine, from Debian packages that are never installed here.

Everything is kept in a cache folder: LOADWITNESS_MACHINE_CACHE, else `emulated` in the folder for temporary files. It takes
about 0.5 GB with one root, most of it the root's image. Needs apt-get, dpkg-deb, busybox-static; debootstrap and root rights
for the root file system.
"""
import contextlib
import fcntl
import gzip
import hashlib
import os
import pathlib
import re
import shutil
import subprocess
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
SUITE = "bookworm"
MIRROR = "http://deb.debian.org/debian"

# The cloud kernel (27 MB) would do for power cuts but has no USB at all; hence the ordinary one (70 MB).
KERNEL = "linux-image-amd64"

# What the machine's devices, disks and sticks need. Their dependencies are found in the modules themselves.
MODULES = [
    "virtio_pci", "virtio_blk", "crc32c_generic", "ext4",
    "xhci_pci", "usb_storage", "sd_mod",
    "nls_cp437", "nls_ascii", "nls_iso8859-1", "nls_utf8", "vfat", "exfat",
    "loop",
]


# To be raised when the code below makes something else of the same packages: names in the cache carry it.
EDITION = "1"


# Beside the minimal Debian: what formats an exFAT stick in the guest. One set for all checks, so that it is made once.
PACKAGES = ("exfatprogs",)


class BuildError(Exception):
    """Something that the machine is made of cannot be had; the message says what and how to mend it."""


def cache_folder():
    folder = pathlib.Path(
        os.environ.get("LOADWITNESS_MACHINE_CACHE") or pathlib.Path(tempfile.gettempdir()) / "emulated")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def cache_megabytes():
    """What the cache takes on disk; images are sparse, so this is less than the sum of their lengths."""
    blocks = sum(file.lstat().st_blocks for file in cache_folder().rglob("*"))
    return round(blocks * 512 / 1e6)


def kernel():
    """Folder with `vmlinuz` and `initramfs`."""
    with _locked():
        package = _newest_kernel()
        folder = cache_folder() / f"kernel-{package}-{_digest(*MODULES, _text('guest_init.sh'))}"
        if not folder.exists():
            with _finished_whole(folder) as work:
                _make_kernel(package, work)
        return folder


def root(packages=PACKAGES):
    """Image of a minimal Debian: no Java, an ordinary user `bench` (uid 1000), the command channel on the second serial port.

    With `systemd-sysv` among the packages, systemd is its init; otherwise a shell script of ours.
    """
    packages = sorted(packages)
    scripts = [_text(f"guest_{name}.sh") for name in ("plain_init", "shell")]
    with _locked():
        image = cache_folder() / f"root-{_digest(EDITION, SUITE, *packages, *scripts)}.ext4"
        if not image.exists():
            if os.geteuid() != 0:
                raise BuildError("making the root file system needs root rights (debootstrap)")
            _image_from(_bootstrapped(packages), image)
        return image


def furnished_root(image, furnish, packages=PACKAGES):
    """The same with more in it, as `image`, which the caller owns: `furnish` is called with the folder to fill."""
    if os.geteuid() != 0:
        raise BuildError("making the root file system needs root rights (debootstrap)")
    with _locked():
        tree = _bootstrapped(sorted(packages))
    _image_from(tree, pathlib.Path(image), furnish)
    return image


def minimal_debian(packages=PACKAGES):
    """Folder with the root file system alone, as debootstrap leaves it. Copy it; do not write into it."""
    with _locked():
        return _bootstrapped(sorted(packages))


def run(*command, timeout=900, **options):
    """Runs a program of this machine; its output goes into the error if it fails."""
    command = [str(part) for part in command]
    try:
        done = subprocess.run(command, check=False, timeout=timeout, capture_output=True, **options)
    except FileNotFoundError:
        raise BuildError(f"{command[0]} is not installed") from None
    if done.returncode != 0:
        said = (done.stdout + done.stderr).decode(errors="replace")
        raise BuildError(f"{' '.join(command)} ended with {done.returncode}:\n{said[-2000:]}")
    return done.stdout


def _text(name):
    return (HERE / name).read_text(encoding="utf-8")


def _digest(*texts):
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()[:12]


@contextlib.contextmanager
def _locked():
    """One builder at a time on this cache."""
    with open(cache_folder() / "lock", "w", encoding="ascii") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


@contextlib.contextmanager
def _finished_whole(folder):
    """A work folder that gets its name only when it is complete, so that an interrupted build is never taken for a whole one."""
    work = pathlib.Path(tempfile.mkdtemp(dir=folder.parent))
    try:
        yield work
        work.chmod(0o755)
        work.rename(folder)
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _newest_kernel():
    def depends():
        listed = run("apt-cache", "depends", KERNEL).decode()
        return re.search(r"Depends: (linux-image-\S+)", listed)

    try:
        found = depends()
    except BuildError:
        found = None
    if not found:  # no package lists yet, as in a fresh container
        run("apt-get", "update", "-qq")
        found = depends()
    if not found:
        raise BuildError(f"apt knows no package {KERNEL}")
    return found[1]


def _make_kernel(package, work):
    run("apt-get", "-q", "download", package, cwd=work)
    archive = next(work.glob("*.deb"))
    tree = work / "tree"
    tree.mkdir()
    run("dpkg-deb", "-x", archive, tree)
    archive.unlink()
    shutil.copy(next((tree / "boot").glob("vmlinuz-*")), work / "vmlinuz")
    modules = _in_order(next((tree / "lib/modules").iterdir()))
    entries = [("init", 0o755, (HERE / "guest_init.sh").read_bytes()),
               ("bin/busybox", 0o755, _static_busybox()),
               ("modules/order", 0o644, "".join(f"{name}.ko\n" for name in modules).encode())]
    entries += [(f"modules/{name}.ko", 0o644, content) for name, content in modules.items()]
    with gzip.open(work / "initramfs", "wb", compresslevel=1) as archive:
        archive.write(_cpio(["bin", "dev", "modules", "proc", "root", "sys"], entries))
    shutil.rmtree(tree)


def _static_busybox():
    found = shutil.which("busybox")
    if not found:
        raise BuildError("busybox is not installed (Debian: busybox-static)")
    content = pathlib.Path(found).read_bytes()
    if b"/lib64/ld-linux" in content[:4096]:
        raise BuildError(f"{found} is not static (Debian: busybox-static)")
    return content


def _in_order(folder):
    """Modules by name, each after those it needs. Debian makes modules.dep only on installing, so the modules are asked."""
    files = {file.name.split(".ko")[0].replace("-", "_"): file for file in folder.rglob("*.ko*")}
    builtin = {pathlib.PurePath(line).name.split(".ko")[0].replace("-", "_")
               for line in (folder / "modules.builtin").read_text(encoding="ascii").splitlines()}
    ordered = {}

    def add(name):
        name = name.replace("-", "_")
        if name in ordered or name in builtin:
            return
        if name not in files:
            raise BuildError(f"the kernel package has no module {name}")
        content = _plain(files[name])
        before = re.search(rb"\0depends=([^\0]*)\0", content)
        for needed in before[1].decode().split(",") if before and before[1] else []:
            add(needed)
        ordered[name] = content

    for name in MODULES:
        add(name)
    return ordered


def _plain(file):
    if file.suffix == ".ko":
        return file.read_bytes()
    tool = {".xz": "xz", ".zst": "zstd", ".gz": "gzip"}[file.suffix]
    return run(tool, "-dc", file)


def _cpio(folders, entries):
    """An archive in the "newc" form, as the kernel's Documentation/driver-api/early-userspace/buffer-format.rst gives it."""
    archive = bytearray()

    def add(name, mode, content=b"", major=0, minor=0):
        raw = name.encode() + b"\0"
        # inode, mode, uid, gid, links, mtime, size, device major and minor, special major and minor, name length, check
        fields = (0, mode, 0, 0, 1, 0, len(content), 0, 0, major, minor, len(raw), 0)
        archive.extend(b"070701" + b"".join(b"%08X" % field for field in fields) + raw)
        archive.extend(b"\0" * (-len(archive) % 4))
        archive.extend(content)
        archive.extend(b"\0" * (-len(archive) % 4))

    for folder in folders:
        add(folder, 0o040755)
    add("dev/console", 0o020600, major=5, minor=1)  # where the first program's output goes before /dev is mounted
    for name, mode, content in entries:
        add(name, 0o100000 | mode, content)
    add("TRAILER!!!", 0)
    return bytes(archive)


def _bootstrapped(packages):
    tree = cache_folder() / f"debian-{_digest(SUITE, *packages)}"
    if not tree.exists():
        if os.geteuid() != 0:
            raise BuildError("debootstrap needs root rights")
        with _finished_whole(tree) as work:
            include = [f"--include={','.join(packages)}"] if packages else []
            run("debootstrap", "--variant=minbase", *include, SUITE, work, MIRROR)
            for unneeded in ("var/cache/apt", "var/lib/apt/lists", "usr/share/doc", "usr/share/locale", "usr/share/man"):
                shutil.rmtree(work / unneeded, ignore_errors=True)
    return tree


def _make_bootable(tree):
    shell = tree / "usr/local/sbin/machine-shell"
    shutil.copy(HERE / "guest_shell.sh", shell)
    shell.chmod(0o755)
    (tree / "etc/hostname").write_text("emulated\n", encoding="ascii")
    run("chroot", tree, "useradd", "--create-home", "--uid", "1000", "--shell", "/bin/sh", "bench")
    init = tree / "sbin/init"
    if init.is_symlink() or init.exists():
        unit = tree / "etc/systemd/system/machine-shell.service"
        unit.write_text(
            "[Unit]\nDescription=Command channel of the emulated machine\n\n"
            "[Service]\nExecStart=/usr/local/sbin/machine-shell\nRestart=always\nKillMode=process\n\n"
            "[Install]\nWantedBy=multi-user.target\n", encoding="ascii")
        wanted = tree / "etc/systemd/system/multi-user.target.wants"
        wanted.mkdir(parents=True, exist_ok=True)
        (wanted / unit.name).symlink_to(f"../{unit.name}")
    else:
        shutil.copy(HERE / "guest_plain_init.sh", init)
        init.chmod(0o755)


def _image_from(tree, image, furnish=None):
    with tempfile.TemporaryDirectory(dir=cache_folder()) as work:
        copy = pathlib.Path(work) / "root"
        run("cp", "-a", tree, copy)
        _make_bootable(copy)
        if furnish:
            furnish(copy)
        _image_of(copy, image, spare_megabytes=512)


def _image_of(tree, image, spare_megabytes):
    used = int(run("du", "-sm", tree).split()[0])
    part = image.with_suffix(".part")
    part.unlink(missing_ok=True)
    # The size is the image's length; untouched blocks take no room here.
    run("mke2fs", "-q", "-t", "ext4", "-d", tree, part, f"{used * 11 // 10 + spare_megabytes}M")
    part.rename(image)
