"""Handing a PDF to the system's printing, where there is one."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

from counter.errors import Refused

PATIENCE_SECONDS = 30


def send_to_printer(path: Path, printer: str) -> str:
    """Hand ``path`` to ``lp`` for the printer named; what the system answered.

    Refused where there is no printing system, no such printer, or no answer. The PDF stays.
    """
    tried = f"print {path.name} on '{printer}'"
    do = f"The PDF is kept: print {path} from any other program"
    program = shutil.which("lp")
    if program is None:
        raise Refused(tried, "this computer has no printing system (lp)", do)
    command = [program, "-d", printer, "-o", "print-scaling=none", "--", str(path)]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=PATIENCE_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        raise Refused(tried, f"it did not answer in {PATIENCE_SECONDS} s", do) from None
    except OSError as error:
        raise Refused(tried, f"the printing system cannot be started ({error})", do) from None
    said = " ".join((done.stdout + " " + done.stderr).split())
    if done.returncode:
        raise Refused(tried, said or f"the printing system answered {done.returncode}", do)
    return said
