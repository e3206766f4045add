"""The program itself, beside the copies: wheels of it and of all it needs, made of what is
installed here, so that a new computer of the same kind needs no network.

A wheel is a zip with a list of its files (the binary distribution format of the Python packaging
guide, from memory). What is installed is that zip unpacked; so it is packed again.
"""

from __future__ import annotations

import io
import re
import zipfile
from base64 import urlsafe_b64encode
from collections.abc import Iterable, Iterator
from hashlib import sha256
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

import counter
from counter.errors import Refused
from labels.files import write_whole
from labels.say import say

OURS = "tofu-counter"
FOLDER = "wheels"
_PACKAGES = ("counter", "labels", "demo_shop")
# What the installing program wrote down for itself.
_OF_INSTALLING = {"INSTALLER", "REQUESTED", "RECORD", "direct_url.json"}


def carry_wheels(to: Path) -> list[str]:
    """Put the wheels into the folder ``wheels`` of ``to``; the names of those that were not there.
    Raises Refused for what was not installed by wheels, NotWritten where the disk refuses."""
    place, written = to / FOLDER, []
    place.mkdir(exist_ok=True)
    for found in _needed(OURS, {}).values():
        ours = _key(found.metadata["Name"]) == OURS
        name = _name(found, ["py3-none-any"] if ours else _tags(found))
        if not ours and (place / name).exists():
            continue
        data = _packed(_own_files(found) if ours else _files(found))
        if not (place / name).exists() or (place / name).read_bytes() != data:
            write_whole(place / name, data)
            written.append(name)
    return written


def _key(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _needed(name: str, known: dict[str, Distribution]) -> dict[str, Distribution]:
    """A distribution and what it needs. What is not installed here is for another system."""
    try:
        found = distribution(name)
    except PackageNotFoundError:
        return known
    if _key(name) not in known:
        known[_key(name)] = found
        for line in found.requires or ():
            needed = re.match(r"[A-Za-z0-9._-]+", line)
            if needed and not re.search(r"\bextra\s*==", line):
                _needed(needed[0], known)
    return known


def _tags(found: Distribution) -> list[str]:
    lines = (found.read_text("WHEEL") or "").splitlines()
    tags = [line.partition(":")[2].strip() for line in lines if line.startswith("Tag:")]
    if not tags or found.files is None:
        name = found.metadata["Name"]
        do = say("Install the program anew with pip")
        raise Refused(
            say("carry the program to {folder}", folder=FOLDER),
            say("{package} is not installed by pip", package=name),
            do,
        )
    return tags


def _name(found: Distribution, tags: list[str]) -> str:
    parted = [tag.split("-") for tag in tags]
    parts = (".".join(dict.fromkeys(part)) for part in zip(*parted, strict=True))
    name = re.sub(r"[-_.]+", "_", found.metadata["Name"]).lower()
    return f"{name}-{found.version}-{'-'.join(parts)}.whl"


def _files(found: Distribution) -> Iterator[tuple[str, bytes]]:
    for file in found.files or ():
        kept = not file.parts[0].startswith("..") and "__pycache__" not in file.parts
        if kept and file.name not in _OF_INSTALLING:
            yield file.as_posix(), Path(str(found.locate_file(file))).read_bytes()


def _own_files(found: Distribution) -> Iterator[tuple[str, bytes]]:
    """The program from where it runs, also where that is a folder that somebody works in."""
    root = Path(counter.__file__).parent.parent
    for package in _PACKAGES:
        for path in sorted((root / package).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                yield path.relative_to(root).as_posix(), path.read_bytes()
    info = f"tofu_counter-{found.version}.dist-info"
    needs = "".join(f"Requires-Dist: {line}\n" for line in found.requires or ())
    extras = "".join(f"Provides-Extra: {e}\n" for e in found.metadata.get_all("Provides-Extra", []))
    head = f"Metadata-Version: 2.1\nName: {OURS}\nVersion: {found.version}\n"
    python = f"Requires-Python: {found.metadata['Requires-Python']}\n"
    yield f"{info}/METADATA", f"{head}{python}{needs}{extras}".encode()
    wheel = f"Wheel-Version: 1.0\nGenerator: {OURS}\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
    yield f"{info}/WHEEL", wheel.encode()
    yield f"{info}/entry_points.txt", (found.read_text("entry_points.txt") or "").encode()


def _packed(files: Iterable[tuple[str, bytes]]) -> bytes:
    record, buffer = [], io.BytesIO()
    info = ""
    with zipfile.ZipFile(buffer, "w") as wheel:
        for name, data in files:
            wheel.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED, 1)
            digest = urlsafe_b64encode(sha256(data).digest()).rstrip(b"=").decode()
            record.append(f'"{name}",sha256={digest},{len(data)}\n')
            info = name.partition("/")[0] if name.endswith(".dist-info/METADATA") else info
        record.append(f'"{info}/RECORD",,\n')
        wheel.writestr(zipfile.ZipInfo(f"{info}/RECORD"), "".join(record), zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
