"""Folders in which a database file is not safe: synced to a cloud, or on another machine."""

from __future__ import annotations

import sys
from pathlib import Path, PurePath

from models.errors import StorageError

_SYNCED_NAMES = frozenset(
    {
        "dropbox",
        "google drive",
        "googledrive",
        "my drive",
        "icloud drive",
        "icloudrive",
        "com~apple~clouddocs",
        "cloudstorage",
        "box sync",
        "nextcloud",
        "onedrive",
        "owncloud",
        "pclouddrive",
        "syncthing",
        "megasync",
    }
)
_SYNCED_STARTS = ("onedrive -", "onedrive-", "dropbox (", "google drive (")
"""Folder names of the common sync programs, business variants included: common knowledge."""
_NETWORK_FILESYSTEMS = frozenset(
    {
        "afpfs",
        "afs",
        "cifs",
        "davfs",
        "fuse.davfs",
        "fuse.rclone",
        "fuse.sshfs",
        "ncpfs",
        "nfs",
        "nfs4",
        "smb2",
        "smb3",
        "smbfs",
        "webdav",
    }
)
_REMOTE_DRIVE = 4  # GetDriveTypeW: DRIVE_REMOTE


def refuse_unsafe_place(path: Path) -> None:
    """Raise `StorageError` if a database at this path could be torn by sync or network locks.

    A sync program copies the file while it is being written, and network file systems lock it
    unreliably; both have corrupted databases (source: sqlite.org/howtocorrupt.html, 1.2 and 2.1).
    """
    full = path.expanduser().absolute()
    real = full.resolve()
    why = synced_by(full) or synced_by(real) or on_network(str(path)) or on_network(str(real))
    if why:
        raise StorageError(
            f"The database would lie in {full.parent}, which is {why}. Such folders can damage it. "
            "Name a place on this machine's own disk with --database."
        )


def synced_by(path: PurePath) -> str | None:
    """Words for the sync program's folder that a path lies in, None for an ordinary one.

    >>> synced_by(PurePath("/home/kim/OneDrive - School/robot.db"))
    'synced to a cloud (OneDrive - School)'
    >>> synced_by(PurePath("/home/kim/robot.db")) is None
    True
    """
    for part in path.parts[:-1]:
        name = part.lower()
        if name in _SYNCED_NAMES or name.startswith(_SYNCED_STARTS):
            return f"synced to a cloud ({part})"
    return None


def on_network(path: str) -> str | None:
    r"""Words for the other machine's disk that a path lies on, None for one of this machine.

    >>> on_network(r"\\server\share\robot.db")
    'on another machine'
    """
    if path.startswith(("\\\\", "//")):
        return "on another machine"
    if sys.platform == "win32":
        import ctypes  # noqa: PLC0415  only this system has the call

        drive = Path(path).absolute().drive + "\\"
        if ctypes.windll.kernel32.GetDriveTypeW(drive) == _REMOTE_DRIVE:
            return "on another machine"
        return None
    mounts = Path("/proc/mounts")
    if not mounts.exists():
        return None
    kind = filesystem_of(path, mounts.read_text(encoding="utf-8", errors="replace"))
    return f"on a network file system ({kind})" if kind in _NETWORK_FILESYSTEMS else None


def filesystem_of(path: str, mounts: str) -> str:
    """The kind of file system on which a path lies, by a table in the form of /proc/mounts.

    >>> table = "disk / ext4 rw 0 0\\nserver:/pit /mnt/pit nfs4 rw 0 0\\n"
    >>> filesystem_of("/mnt/pit/robot.db", table), filesystem_of("/mnt/pits/robot.db", table)
    ('nfs4', 'ext4')
    """
    best, kind = "", ""
    for line in mounts.splitlines():
        fields = line.split()
        if len(fields) < 3:
            continue
        point = fields[1].replace("\\040", " ").rstrip("/")
        inside = path == point or path.startswith(point + "/")
        if inside and len(point) >= len(best):
            best, kind = point, fields[2]
    return kind
