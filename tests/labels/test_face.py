"""The package face is a short list, and knows nothing of the counter."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import labels

FACE = [
    "Blank", "DateMark", "Facts", "Ingredient", "Label", "LabelError", "Maker", "NetQuantity",
    "Panel", "Printed", "RandomWeight", "blank_named", "explain", "lay_out", "write_pdf",
]  # fmt: skip
SOURCES = sorted(Path(labels.__file__).parent.rglob("*.py"))


def test_the_face_is_these_names() -> None:
    assert labels.__all__ == FACE
    assert all(hasattr(labels, name) for name in FACE)


def test_labels_import_nothing_of_the_counter() -> None:
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            else:
                continue
            assert not [name for name in names if name.split(".")[0] == "counter"], path


def test_importing_labels_loads_no_drawing_library() -> None:
    heavy = "{'reportlab', 'pypdfium2', 'zxingcpp', 'babel', 'barcode', 'segno', 'PIL'}"
    code = f"import sys; from labels import *; print(sorted({heavy} & set(sys.modules)))"
    words = [sys.executable, "-c", code]
    assert subprocess.run(words, check=True, capture_output=True, text=True).stdout == "[]\n"
