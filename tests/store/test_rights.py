"""What the program writes is for its owner alone, from the first byte."""

import os
import subprocess
import sys
from pathlib import Path

from ratoon.store import Store


def test_a_database_is_its_owners_alone_whatever_the_mask(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        with Store.open(tmp_path / "ratoon.db") as store:
            store.add_readings([])
            for path in tmp_path.iterdir():
                assert path.stat().st_mode & 0o077 == 0, path.name
    finally:
        os.umask(before)


def test_a_command_leaves_nothing_to_others(tmp_path: Path) -> None:
    """A command makes folders and files through many libraries: the mask holds for all of them."""
    script = (
        "import os; os.umask(0); from ratoon.cli.app import run; run(['--version']);"
        "os.mkdir('folder'); open('folder/file', 'w').close()"
    )
    subprocess.run([sys.executable, "-c", script], cwd=tmp_path, check=True, capture_output=True)
    assert (tmp_path / "folder").stat().st_mode & 0o077 == 0
    assert (tmp_path / "folder" / "file").stat().st_mode & 0o077 == 0
