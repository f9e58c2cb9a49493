"""How wide text is drawn, and how it is broken into lines: no browser is asked, so that letters are taken at their widest."""

from collections.abc import Iterator

# Widths as parts of the size of the type, by common sans-serif faces, with a tenth to spare for wider ones.
NARROW, USUAL, CAPITAL, WIDE, FULL = 0.36, 0.64, 0.82, 1.06, 1.2
PHONE_W = 308  # of the sheet of a phone of 360: no drawing is wider, so that none is pushed aside to be read
_NARROW = frozenset("iljtfrI.,:;'!|()[]/ -·")
_WIDE = frozenset("mwMWQO@%—…")


def width_of(text: str, size: float) -> float:
    """Return the width that a text takes at most."""
    return size * sum(map(_letter, text))


def _letter(letter: str) -> float:
    if letter in _NARROW:
        return NARROW
    if letter in _WIDE:
        return WIDE
    if not letter.isascii() and letter != "°":
        return FULL
    return CAPITAL if letter.isupper() else USUAL


def broken(text: str, room: float, size: float) -> tuple[str, ...]:
    """Return a text in lines no wider than `room`; a word that is wider itself is broken.

    Examples
    --------
    >>> broken("wall station, four sliders", 80.0, 11)
    ('wall station,', 'four sliders')

    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}".lstrip()
        if width_of(longer, size) <= room:
            line = longer
            continue
        lines += [line] if line else []
        *whole, line = _pieces(word, room, size)
        lines += whole
    return (*lines, line)


def _pieces(word: str, room: float, size: float) -> Iterator[str]:
    """Yield a word in pieces that are no wider than `room`, of one letter at least."""
    while width_of(word, size) > room and len(word) > 1:
        cut = next(count for count in range(len(word) - 1, 0, -1) if count == 1 or width_of(word[:count], size) <= room)
        yield word[:cut]
        word = word[cut:]
    yield word


def shortened(text: str, room: float, size: float) -> str:
    """Return a text that is no wider than `room`, with a sign of what was left out."""
    if width_of(text, size) <= room:
        return text
    while text and width_of(f"{text}…", size) > room:
        text = text[:-1]
    return f"{text}…"
