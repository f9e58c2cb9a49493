"""The rows of a calendar file as arrays: where each begins and ends, and what kind of line it is.

A first look over a whole file at once, for `ics_plain`; nothing here decides what a line means.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Positions = NDArray[np.int64]
Flags = NDArray[np.bool_]
LINE_FEED, RETURN, COLON, SEMICOLON, QUOTE = b'\n\r:;"'
WORD = 8  # bytes of a row that are looked at
_BYTES = np.arange(256, dtype=np.uint8)
_CAPITALS = np.where((ord("a") <= _BYTES) & (ord("z") >= _BYTES), _BYTES - 32, _BYTES).astype(np.uint8)
_IN_NAME = np.isin(_CAPITALS, np.frombuffer(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-", dtype=np.uint8))
_STRANGE = (~_IN_NAME).astype(np.uint8).tobytes()  # for each byte, whether no name has it


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """The rows of a file, by position of byte: `start` to `end` (line end left off), the first `colon` (or past the end).

    `data` are the bytes with zeros behind them; `word` the first eight bytes of each row in capitals; `named` tells
    whether a row begins with a name and a colon, `folded` whether it goes on from the row before.
    """

    content: bytes
    data: NDArray[np.uint8]
    start: Positions
    end: Positions
    colon: Positions
    word: NDArray[np.uint64]
    named: Flags
    folded: Flags

    @property
    def followed(self) -> Flags:
        """Tell which rows the next row goes on from."""
        return np.concatenate((self.folded[1:], [False]))

    def begins(self, text: bytes) -> Flags:
        """Tell which rows begin with a text of up to eight bytes, in whatever case."""
        mask = np.frombuffer((b"\xff" * len(text)).ljust(WORD, b"\0"), dtype=np.uint64)[0]
        flags: Flags = (self.word & mask) == np.frombuffer(text.ljust(WORD, b"\0"), dtype=np.uint64)[0]
        return flags

    def are(self, text: bytes, rows: Positions) -> Flags:
        """Tell which of some rows that are at least as long begin with a text, letter by letter as it stands."""
        wanted = np.frombuffer(text, dtype=np.uint8)
        flags: Flags = (self.data[self.start[rows][:, None] + np.arange(len(text))] == wanted).all(axis=1)
        return flags

    def bytes_of(self, rows: Positions) -> list[bytes]:
        """Return the bytes of some rows."""
        spans = zip(self.start[rows].tolist(), self.end[rows].tolist(), strict=True)
        return [self.content[start:end] for start, end in spans]

    def values_of(self, rows: Positions) -> list[bytes]:
        """Return what stands behind the colon of some rows, without blanks around it, in capitals."""
        spans = zip(self.colon[rows].tolist(), self.end[rows].tolist(), strict=True)
        return [self.content[colon + 1 : end].strip().upper() for colon, end in spans]

    def window(self, at: Positions, width: int) -> NDArray[np.int64]:
        """Return so many bytes from each position on."""
        found: NDArray[np.int64] = self.data[at[:, None] + np.arange(width)].astype(np.int64)
        return found


def rows_of(content: bytes) -> Rows:
    r"""Return the rows of a file.

    Examples
    --------
    >>> rows = rows_of(b"UID:7\r\n more\r\n")
    >>> rows.begins(b"UID").tolist(), rows.folded.tolist(), (rows.end - rows.start).tolist()
    ([True, False, False], [False, True, False], [5, 5, 0])

    """
    data = np.frombuffer(content.ljust(len(content) + 2 * WORD, b"\0"), dtype=np.uint8)
    breaks = np.flatnonzero(data == LINE_FEED)
    start = np.concatenate(([0], breaks + 1))
    end = np.concatenate((breaks, [len(content)]))
    end = end - ((end > start) & (data[end - 1] == RETURN))
    colon = _first(data, COLON, start, len(content))
    strange = _first(np.frombuffer(content.translate(_STRANGE), dtype=np.uint8), 1, start, len(content))
    word = np.ascontiguousarray(_CAPITALS[data[start[:, None] + np.arange(WORD)]]).view(np.uint64)[:, 0]
    return Rows(
        content=content,
        data=data,
        start=start,
        end=end,
        colon=colon,
        word=word,
        named=(colon > start) & (colon < end) & (strange == colon),
        folded=np.isin(data[start], np.frombuffer(b" \t", dtype=np.uint8)) & (end > start),
    )


def _first(data: NDArray[np.uint8], byte: int, start: Positions, none: int) -> Positions:
    """Return the first place of a byte at or after each start; `none` where there is none."""
    places = np.append(np.flatnonzero(data == byte), none)
    found: Positions = places[np.searchsorted(places[:-1], start)]
    return found
