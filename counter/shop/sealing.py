"""A copy sealed with a passphrase, and the key for it that stays on the shop's computer.

A sealed file is a head, pieces of 64 KiB each sealed by itself, and a mark that says where it
ends::

    "tofu-counter sealed copy\\n" | log2 of scrypt's n, 1 byte | salt, 16 | salt of the file, 16
    | check, 16 | SHA-256 of all this, 16 | pieces | "\\nend of the copy"

scrypt (RFC 7914; r = 8, p = 1) makes a key of passphrase and salt; HKDF (RFC 5869) makes of it the
key of the file, with the head as its context, and the check, which tells a wrong passphrase from
bytes that changed. A piece is ChaCha20-Poly1305 (RFC 8439); its nonce is its number and whether it
is the last one (STREAM: Hoang, Reyhanitabar, Rogaway, Vizár 2015), so no piece can be left out,
moved or cut off. No key seals two pieces with one nonce. All from memory.

What somebody finds out with the file alone: its size, and whether a passphrase that they guess
fits; a guess costs them 128 MiB and some tenths of a second.
"""

from __future__ import annotations

import hashlib
import hmac
import io
import os
import secrets
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING, cast

from counter.books.copies import OTHER, SEALED
from counter.books.engine import refused
from counter.errors import BadArchive, BadInput, SealedCopy
from counter.shop.staffing import keep_key
from labels.say import Said, say, term

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

KEY_FILE = ".copy-key"
LEAST = 12  # letters: some four words
_PIECE, _TAG, _END = 1 << 16, 16, b"\nend of the copy"
_N, _MOST_N = 17, 20  # log2: 128 MiB; what asks for more than 1 GiB is no copy of ours
_HEAD = len(SEALED) + 1 + 16 + 16 + 16 + 16


class Seal:
    """The key of a passphrase for one salt, and the passphrase where somebody gave it: then copies
    that were sealed with it under other salts open, too."""

    def __init__(self, salt: bytes = b"", key: bytes = b"", passphrase: str = "") -> None:
        self.salt, self.key, self._passphrase = salt, key, passphrase
        self._keys = {salt: key}  # a key costs time, and a copy is opened more than once

    @classmethod
    def of(cls, passphrase: str) -> Seal:
        """A new salt and its key."""
        salt = secrets.token_bytes(16)
        return cls(salt, _derived(passphrase, salt, _N), passphrase)

    @contextmanager
    def writing(self, file: IO[bytes]) -> Iterator[IO[bytes]]:
        """A file whose bytes are written sealed; whole when the block ends."""
        head = SEALED + bytes([_N]) + self.salt + secrets.token_bytes(16)
        head += _of_file(self.key, head, b"check")[:16]
        head += hashlib.sha256(head).digest()[:16]
        file.write(head)
        sink = _Sink(file, _cipher(self.key, head))
        yield cast("IO[bytes]", sink)
        sink.finish()
        file.write(_END)

    def reading(self, file: IO[bytes], tried: Said) -> IO[bytes]:
        """A sealed file as what it holds. SealedCopy where the passphrase does not fit, BadArchive
        where it is cut or changed."""
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - len(_END)))
        if size < _HEAD + _TAG + len(_END) or file.read() != _END:
            raise BadArchive(tried, say("it was cut off"), OTHER)
        file.seek(0)
        head = file.read(_HEAD)
        known, n, salt = head[:-16], head[len(SEALED)], head[len(SEALED) + 1 :][:16]
        if hashlib.sha256(known).digest()[:16] != head[-16:] or n > _MOST_N:
            raise _changed(tried)
        if salt not in self._keys:
            if not self._passphrase:
                why = say("it is sealed with another passphrase than this shop's copies are now")
                raise SealedCopy(tried, why, say("Give the passphrase that it was sealed with"))
            self._keys[salt] = _derived(self._passphrase, salt, n)
        key = self._keys[salt]
        if not hmac.compare_digest(_of_file(key, head[:-32], b"check")[:16], head[-32:-16]):
            why = say("the passphrase does not fit it")
            raise SealedCopy(tried, why, say("Give the passphrase that it was sealed with"))
        source = _Source(file, size - _HEAD - len(_END), _cipher(key, head), tried)
        return io.BufferedReader(source, _PIECE)


def _derived(passphrase: str, salt: bytes, log_n: int) -> bytes:
    # However its letters and the room between its words were typed.
    text = " ".join(unicodedata.normalize("NFKC", passphrase).split()).encode()
    n = 1 << log_n
    return hashlib.scrypt(text, salt=salt, n=n, r=8, p=1, maxmem=256 * 8 * n, dklen=32)


def _of_file(key: bytes, head: bytes, use: bytes) -> bytes:
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF

    return HKDF(SHA256(), 32, salt=None, info=use + head).derive(key)


def _cipher(key: bytes, head: bytes) -> ChaCha20Poly1305:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    return ChaCha20Poly1305(_of_file(key, head, b"pieces"))


def _nonce(number: int, last: bool) -> bytes:
    return number.to_bytes(11, "big") + bytes([last])


def _changed(tried: Said) -> BadArchive:
    return BadArchive(tried, say("its bytes are not those that were written"), OTHER)


class _Sink:
    """Seals piece by piece; the last is known only at the end."""

    def __init__(self, file: IO[bytes], cipher: ChaCha20Poly1305) -> None:
        self._file, self._cipher, self._rest, self._number = file, cipher, b"", 0

    def write(self, data: bytes) -> int:
        self._rest += data
        while len(self._rest) > _PIECE:
            self._seal(self._rest[:_PIECE], last=False)
            self._rest = self._rest[_PIECE:]
        return len(data)

    def finish(self) -> None:
        self._seal(self._rest, last=True)

    def _seal(self, piece: bytes, *, last: bool) -> None:
        self._file.write(self._cipher.encrypt(_nonce(self._number, last), piece, None))
        self._number += 1


class _Source(io.RawIOBase):
    """Opens the piece that is read; ``size`` bytes of pieces stand behind the head."""

    def __init__(self, file: IO[bytes], size: int, cipher: ChaCha20Poly1305, tried: Said) -> None:
        self._file, self._cipher, self._tried = file, cipher, tried
        self._pieces = -(-size // (_PIECE + _TAG))
        self._size, self._at = size - _TAG * self._pieces, 0
        self._open: tuple[int, bytes] = (-1, b"")
        if size - (self._pieces - 1) * (_PIECE + _TAG) < _TAG:
            raise _changed(tried)

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        base = {os.SEEK_SET: 0, os.SEEK_CUR: self._at, os.SEEK_END: self._size}[whence]
        self._at = max(0, base + offset)
        return self._at

    def tell(self) -> int:
        return self._at

    def readinto(self, into: memoryview) -> int:  # type: ignore[override]
        number, begin = divmod(self._at, _PIECE)
        if self._at >= self._size:
            return 0
        data = self._piece(number)[begin : begin + len(into)]
        into[: len(data)] = data
        self._at += len(data)
        return len(data)

    def _piece(self, number: int) -> bytes:
        from cryptography.exceptions import InvalidTag

        if self._open[0] != number:
            self._file.seek(_HEAD + number * (_PIECE + _TAG))
            last = number == self._pieces - 1
            rest = self._size - number * _PIECE
            sealed = self._file.read(min(_PIECE, rest) + _TAG)
            try:
                self._open = number, self._cipher.decrypt(_nonce(number, last), sealed, None)
            except InvalidTag:
                raise _changed(self._tried) from None
        return self._open[1]


# -- the key of a shop


def checked(passphrase: str) -> str:
    """A passphrase fit to seal copies with. BadInput for one that is soon guessed."""
    words = passphrase.strip()
    if len(words) < LEAST or len(set(words)) < 6:
        do = say("Take four words that do not belong together")
        raise BadInput(
            say("seal the copies"),
            say("the passphrase has not {n} letters that differ", n=LEAST),
            do,
        )
    return words


def kept_seal(folder: Path) -> Seal | None:
    """The seal of a shop whose owner gave a passphrase: its key, without the passphrase."""
    try:
        kept = (folder / KEY_FILE).read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise refused(say("read {what}", what=term(KEY_FILE)), error) from error
    if len(kept) != 48:
        do = say("Give the passphrase anew: `counter backup --seal`")
        raise BadInput(say("read {what}", what=term(KEY_FILE)), say("it is no key"), do)
    return Seal(kept[:16], kept[16:])


def keep_seal(folder: Path, passphrase: str) -> None:
    """Seal copies with this passphrase from now on: its key is kept, it itself is not."""
    seal = Seal.of(checked(passphrase))
    keep_key(folder / KEY_FILE, seal.salt + seal.key)


def forget_seal(folder: Path) -> None:
    """Seal no more copies."""
    try:
        (folder / KEY_FILE).unlink(missing_ok=True)
    except OSError as error:
        raise refused(say("seal the copies"), error) from error
