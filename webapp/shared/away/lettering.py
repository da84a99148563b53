"""How wide letters are, so that lines can be broken in a picture drawn without a browser."""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from webapp.paths import data_folder

FAMILY = "DejaVu Sans"
FONT_FILES = {False: "dejavu-sans-2.37.ttf", True: "dejavu-sans-bold-2.37.ttf"}
"""The vendored fonts, by whether they are bold."""
BEFORE_UNIT = re.compile(r"(?<=\d) (?=[A-Za-z°%Ω][A-Za-z²³·/]{0,5}(?:[\s.,;:)]|$))")
"""The space between a number and its unit, where no line is broken."""


class _Widths(NamedTuple):
    """What a font says of its letters, in its own units."""

    em: int
    of: dict[int, int]
    """Width by code point."""
    other: int
    """Of a sign that the font has not."""


def font_paths() -> list[str]:
    """Return the paths of the vendored fonts."""
    return [str(data_folder("static") / "vendor" / name) for name in FONT_FILES.values()]


@cache
def _widths(bold: bool) -> _Widths:
    from fontTools.ttLib import TTFont  # noqa: PLC0415  (heavy)

    with TTFont(data_folder("static") / "vendor" / FONT_FILES[bold], lazy=True) as font:
        advances = font["hmtx"].metrics
        names = font.getBestCmap()
        em = int(font["head"].unitsPerEm)
        widths = {code: int(advances[name][0]) for code, name in names.items()}
        return _Widths(em, widths, int(advances[".notdef"][0]))


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a line of text is, in the unit of its size."""
    font = _widths(bold)
    return sum(font.of.get(ord(sign), font.other) for sign in text) * size / font.em


def broken(
    text: str, size: float, width: float, *, most: int = 99, bold: bool = False
) -> list[str]:
    """Return text in lines that fit a width; more lines than `most` end in an ellipsis.

    A word that is wider than a line is cut.

    >>> broken("fits and is quicker", 20.0, 120.0)
    ['fits and is', 'quicker']
    """
    lines: list[str] = []
    line = ""
    for given in BEFORE_UNIT.sub("\u00a0", text).split(" "):
        word = given
        while word:
            longer = f"{line} {word}" if line else word
            if text_width(longer, size, bold=bold) <= width:
                line, word = longer, ""
            elif line:
                lines.append(line)
                line = ""
            else:
                room = _room(word, size, width, bold=bold)
                lines.append(word[:room])
                word = word[room:]
    lines += [line] if line else []
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while last and text_width(f"{last}…", size, bold=bold) > width:
        last = last[:-1]
    return [*lines[: most - 1], f"{last.rstrip(' ,;:.')}…"]


def _room(word: str, size: float, width: float, *, bold: bool) -> int:
    """Return how many signs of a word fit a line, one at least."""
    room = len(word)
    while room > 1 and text_width(word[:room], size, bold=bold) > width:
        room -= 1
    return room
