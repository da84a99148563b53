"""A database in a synced or network folder is refused before it is made."""

from __future__ import annotations

from pathlib import Path, PureWindowsPath

import pytest

from models.errors import StorageError
from models.storage import open_store
from models.storage.places import filesystem_of, on_network, refuse_unsafe_place, synced_by

MOUNTS = """\
/dev/sda1 / ext4 rw 0 0
//school/share /mnt/school\\040share cifs rw 0 0
pit:/robots /home/team/pit nfs4 rw 0 0
kim@pit: /home/kim/remote fuse.sshfs rw 0 0
"""


@pytest.mark.parametrize(
    "folder",
    ["OneDrive", "OneDrive - School", "Dropbox", "Dropbox (Team)", "My Drive", "CloudStorage/x"],
)
def test_a_synced_folder_is_refused_and_nothing_is_made(tmp_path: Path, folder: str) -> None:
    with pytest.raises(StorageError, match="synced to a cloud"):
        open_store(f"sqlite:///{tmp_path}/{folder}/switchover.db")
    assert list(tmp_path.iterdir()) == []


def test_a_link_into_a_synced_folder_is_seen_through(tmp_path: Path) -> None:
    (tmp_path / "Dropbox").mkdir()
    (tmp_path / "data").symlink_to(tmp_path / "Dropbox")
    with pytest.raises(StorageError, match="synced to a cloud"):
        refuse_unsafe_place(tmp_path / "data" / "switchover.db")


def test_an_ordinary_folder_is_taken(tmp_path: Path) -> None:
    refuse_unsafe_place(tmp_path / "onedriver" / "dropbox.db")


def test_windows_folders_are_known_too() -> None:
    assert synced_by(PureWindowsPath(r"C:\Users\kim\OneDrive\robot.db"))
    assert on_network(r"\\school\share\robot.db")


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/home/team/robot.db", "ext4"),
        ("/home/team/pit/robot.db", "nfs4"),
        ("/home/team/pitch/robot.db", "ext4"),
        ("/mnt/school share/robot.db", "cifs"),
        ("/home/kim/remote/a/b.db", "fuse.sshfs"),
    ],
)
def test_the_file_system_of_a_path(path: str, kind: str) -> None:
    assert filesystem_of(path, MOUNTS) == kind
