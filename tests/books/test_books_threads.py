"""Threads that read records of the same types for the first time, at once."""

from __future__ import annotations

import subprocess
import sys

RACE = """
import sys, threading, types
import msgspec
from counter.decoders import decoder_of

SOURCE = '''
from __future__ import annotations
import msgspec
class C(msgspec.Struct, frozen=True): a: int; b: str = ""
class B(msgspec.Struct, frozen=True): c: tuple[C, ...]; d: C | None = None; e: dict[str, C] = {}
class A(msgspec.Struct, frozen=True): b: B; x: tuple[B, ...] = (); z: str = ""
'''
BODY = b'[{"b":{"c":[{"a":1,"b":"x"}],"d":{"a":2},"e":{"k":{"a":3}}},"x":[{"c":[]}],"z":"q"}]'
sys.setswitchinterval(1e-6)


def read(kind, body):
    every.wait()
    decoder_of(list[kind]).decode(body)


for n in range(400):
    made = sys.modules[f"m{n}"] = types.ModuleType(f"m{n}")
    exec(SOURCE, made.__dict__)
    every = threading.Barrier(4)
    asked = [(made.A, BODY), (made.B, b"[]"), (made.A, BODY), (made.C, b"[]")]
    threads = [threading.Thread(target=read, args=pair) for pair in asked]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
"""


def test_threads_that_read_a_type_for_the_first_time_do_not_end_the_program() -> None:
    done = subprocess.run(
        [sys.executable, "-c", RACE], capture_output=True, text=True, timeout=120, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
