"""``python -m tests.bench [WORD ...]``: every measurement beside its floor, in the same run.

Each ``*_bench.py`` in this folder has ``run() -> list[(name, ours in seconds, floor in seconds)]``.
With words, only the modules are run whose name contains one of them.
"""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path


def main(words: list[str]) -> None:
    print(f"{'what':<64} {'ours':>11} {'floor':>11} {'ratio':>6}")
    for path in sorted(Path(__file__).parent.glob("*_bench.py")):
        if words and not any(word in path.stem for word in words):
            continue
        for name, ours, floor in import_module(f"tests.bench.{path.stem}").run():
            ratio = f"{ours / floor:6.2f}" if floor else f"{'-':>6}"
            print(f"{name:<64} {ours * 1000:8.3f} ms {floor * 1000:8.3f} ms {ratio}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
