"""Files that appear whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from labels.errors import NotWritten, answer_of
from labels.say import say


def write_whole(path: str | Path, data: bytes) -> None:
    """Write beside ``path``, flush to the disk, then move into place: the whole file or none.

    Raises NotWritten when the disk refuses; what stood at ``path`` before is then still there.
    """
    import tempfile

    path = Path(path)
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(
            dir=path.parent, prefix=f".{path.name}.", suffix=".part"
        )
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except OSError as error:
        if temporary:
            Path(temporary).unlink(missing_ok=True)
        do = say("Make room, or choose another folder")
        tried = say("write {name} in {file}", name=path.name, file=path.parent)
        raise NotWritten(tried, answer_of(error), do) from error
