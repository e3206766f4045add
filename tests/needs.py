"""What a machine may lack: skipped loudly on a user's, a failure where CI=true."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

import pytest


def lacking(what: str, do: str) -> NoReturn:
    """Say what is not there; never let it pass in silence."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what} is missing: {do}")
    pytest.skip(f"NOT TESTED: {what} is missing. {do}")


def zbar_library() -> Any:
    """pyzbar with the zbar library it stands on."""
    try:
        from pyzbar import pyzbar
    except ImportError:
        lacking("the zbar library", "Install it (Debian: libzbar0), it is the second reader")
    return pyzbar


@contextmanager
def small_disk(place: Path, size: str) -> Iterator[Path]:
    """A disk of its own at ``place``, in memory, so large and no larger."""
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        lacking("the right to mount a small disk", "Run the tests as root")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)
