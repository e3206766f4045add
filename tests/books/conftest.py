from __future__ import annotations

from pathlib import Path

import pytest

from tests.books.shelf import Shelf


@pytest.fixture(params=["memory", "files"])
def shelf(request: pytest.FixtureRequest, tmp_path: Path) -> Shelf:
    return Shelf(tmp_path if request.param == "files" else None)
