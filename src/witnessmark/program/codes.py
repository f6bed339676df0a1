"""G and M codes, their modal groups, and the words of a line sorted by them.

Source  NIST IR 6556, Table 4 (G groups as quoted from it; M groups from memory). Codes are ten times their
        number, so that G38.2 is 382.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from .wrong import Wrong

NONMODAL, MOTION, PLANE, DISTANCE, FEED_MODE, UNITS = 0, 1, 2, 3, 5, 6
RADIUS_COMP, LENGTH_OFFSET, RETURN, SYSTEM, PATH_MODE = 7, 8, 10, 12, 13
STOP, CHANGE, SPINDLE, COOLANT, OVERRIDES = 4, 6, 7, 8, 9

_G_GROUPS: dict[int, tuple[int, ...]] = {
    NONMODAL: (40, 100, 280, 300, 530, 920, 921, 922, 923),
    MOTION: (0, 10, 20, 30, 382, 800, 810, 820, 830, 840, 850, 860, 870, 880, 890),
    PLANE: (170, 180, 190),
    DISTANCE: (900, 910),
    FEED_MODE: (930, 940),
    UNITS: (200, 210),
    RADIUS_COMP: (400, 410, 420),
    LENGTH_OFFSET: (430, 490),
    RETURN: (980, 990),
    SYSTEM: (540, 550, 560, 570, 580, 590, 591, 592, 593),
    PATH_MODE: (610, 611, 640),
}
_M_GROUPS: dict[int, tuple[int, ...]] = {
    STOP: (0, 1, 2, 30, 60),
    CHANGE: (6,),
    SPINDLE: (3, 4, 5),
    COOLANT: (7, 8, 9),
    OVERRIDES: (48, 49),
}
GROUP_OF_G = {code: group for group, codes in _G_GROUPS.items() for code in codes}
GROUP_OF_M = {code: group for group, codes in _M_GROUPS.items() for code in codes}
AXIS_NONMODAL = (100, 280, 300, 920)  # non-modal codes that use the axis words of their line
MOST_M = 4


@dataclass
class Block:
    """A line's words: G and M code by modal group, the rest by letter."""

    g: dict[int, int] = field(default_factory=dict)
    m: dict[int, int] = field(default_factory=dict)
    words: dict[str, float] = field(default_factory=dict)

    @property
    def has_axes(self) -> bool:
        return "x" in self.words or "y" in self.words or "z" in self.words


def sort_words(words: list[tuple[str, float]]) -> Block:
    """Sort a line's words; Wrong where two of one group, or two words of one letter, stand on it."""
    block = Block()
    m_count = 0
    for letter, value in words:
        if letter == "g":
            _put_g(block, value)
        elif letter == "m":
            m_count += 1
            _put_m(block, value)
        elif letter in block.words:
            raise Wrong(f"there are two {letter.upper()} words on one line")
        else:
            block.words[letter] = value
    if m_count > MOST_M:
        raise Wrong(f"there are {m_count} M words on one line; {MOST_M} are allowed")
    return block


def name_of_g(code: int) -> str:
    return f"G{code // 10}" + (f".{code % 10}" if code % 10 else "")


def whole(letter: str, value: float, least: int, most: int) -> int:
    """A word that must be a whole number; Wrong otherwise."""
    number = round(value)
    if abs(value - number) > 1e-4 or not least <= number <= most:
        raise Wrong(f"{letter.upper()}{value:g} must be a whole number from {least} to {most}")
    return number


def _put_g(block: Block, value: float) -> None:
    code = round(value * 10)
    if abs(value * 10 - code) > 1e-3 or code not in GROUP_OF_G:
        raise Wrong(f"G{value:g} is not known here")
    group = GROUP_OF_G[code]
    if group in block.g:
        raise Wrong(f"{name_of_g(block.g[group])} and {name_of_g(code)} exclude each other on one line")
    block.g[group] = code


def _put_m(block: Block, value: float) -> None:
    code = round(value)
    if abs(value - code) > 1e-4 or code not in GROUP_OF_M:
        raise Wrong(f"M{value:g} is not known here")
    group = GROUP_OF_M[code]
    if group in block.m and group != COOLANT:
        raise Wrong(f"M{block.m[group]} and M{code} exclude each other on one line")
    block.m[group] = code
