"""Parts of a program: up to before a line, and from a line on.

Question  what must be said so that the rest of a program cuts as it would have cut in one go
Frame     the program's own; nothing is moved
Method    line by line, from the text: the words in force before the line are said again. The rest begins as the
          program does (units, planes, spindle), goes at its safe height over the place where the tip was before the
          line, down there by the feed of entries, and on. The tip was at that place before: whatever stood above it
          has been cut, so going straight down meets no wood
Source    NIST IR 6556 for the words in force (from memory)
Valid     absolute places in the XY plane, one unit throughout, no parameters: as this project writes programs
Refuses   anything else, and lines before the first cut or after the last (Refusal)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache

from witnessmark.job.errors import refuse

from .fingerprint import KEY, PROOF_KEY
from .grammar import Line, parse_line
from .header import filled, header_lines
from .wrong import Wrong

KNOWN = {0, 1, 2, 3, 4, 17, 20, 21, 40, 49, 54, 80, 90, 94, 99, 81, 82, 83}
KNOWN_M = {2, 3, 5, 6, 7, 8, 9, 30}
Words = dict[str, list[float]]

CYCLES = (81, 82, 83)
CUTTING = (1, 2, 3)
REMEDY = "write the program again from the plan, for this machine"


@dataclass(frozen=True)
class _InForce:
    """What the program has said before a line: places as it writes them, mm or inches."""

    motion: int = -1
    feed: str = ""
    place: tuple[str, str, str] = ("", "", "")
    coolant: tuple[str, ...] = ()
    high: bool = False  # the motion before was a rapid


@dataclass(frozen=True)
class Numbered:
    """A line of the program with what was in force before it; ``moves``: it goes somewhere."""

    number: int
    raw: str
    line: Line
    before: _InForce
    motion: int
    moves: bool


@dataclass(frozen=True)
class Parts:
    """A program taken apart: its comments first, the words it opens with, and the rest."""

    header: tuple[str, ...]
    opening: tuple[str, ...]
    lines: tuple[Numbered, ...] = field(repr=False)
    safe_z: str
    entry_feed: str
    numbered: bool

    @property
    def first(self) -> int:
        """The first line that may be gone on from: the first after the tip has been brought down."""
        return next((one.number for one in self.lines if one.moves and all(one.before.place)), 0)

    @property
    def last(self) -> int:
        """The last line that goes somewhere before the closing retract."""
        going = [one.number for one in self.lines if one.moves and one.motion != 0]
        return going[-1] if going else 0

    def lifts(self) -> tuple[int, ...]:
        """Lines before which the tip was brought somewhere by a rapid: a part may end there without a mark."""
        return tuple(
            one.number for one in self.lines if one.moves and one.before.high and self.first < one.number <= self.last
        )


@lru_cache(maxsize=4)  # programs are long, and the parts of one are asked for again and again
def parts_of(text: str, file: str = "program") -> Parts:
    """Take a program apart; Refusal with file and line where it is not as this project writes them."""
    header: list[str] = []
    opening: list[str] = []
    lines: list[Numbered] = []
    force, safe_z, entry_feed, opened, numbered = _InForce(), "", "", False, False
    for number, raw in enumerate(text.splitlines(), 1):
        try:
            line = parse_line(raw, {})
            if not line.words:
                if not opening and not lines:
                    header.append(raw)
                continue
            numbered = numbered or raw.lstrip()[:1] in "Nn"
            letters = _by_letter(line)
            motion = _motion(force.motion, line, letters)
            bare = _bare(raw)
            if len(bare.split()) != len(line.words):
                raise Wrong("its words do not stand apart")
        except Wrong as wrong:
            raise refuse(f"{file}:{number}", f"cannot be taken apart: {wrong}", REMEDY) from None
        opened = opened or bool({"x", "y"} & set(letters))
        if not opened:
            opening.append(bare)
            safe_z = _written(bare, "Z") or safe_z
        moves = bool({"x", "y", "z"} & set(letters))
        if opened:
            lines.append(Numbered(number, bare, line, force, motion, moves))
        if not entry_feed and _written(bare, "F"):
            entry_feed = f"F{_written(bare, 'F')}"
        force = _after(force, bare, letters, motion, moves)
    if not lines or not safe_z or not entry_feed:
        raise refuse(file, "does not begin as a program of this project", REMEDY)
    return Parts(tuple(header), tuple(opening), tuple(lines), safe_z, entry_feed, numbered)


def head(text: str, line: int, file: str = "program") -> str:
    """The program to before ``line``: then the cutter is raised and the spindle stopped."""
    return between(text, None, line, file=file)


def tail(text: str, line: int, notes: tuple[str, ...] = (), slow: bool = True, file: str = "program") -> str:
    """The program from ``line`` on; ``slow``: that line, if it cuts, at the feed of entries."""
    return between(text, line, None, notes, slow, file)


def between(
    text: str,
    first: int | None,
    after: int | None,
    notes: tuple[str, ...] = (),
    slow: bool = False,
    file: str = "program",
) -> str:
    """The program from one line on (None: its beginning) to before another (None: its end).

    ``notes`` go into its header, which carries no fingerprint: a part is another program. Refusal where a line is
    none that cutting could be taken up at.
    """
    parts = parts_of(text, file)
    for line in (first, after):
        if line is not None:
            _must_be_inside(parts, line, file)
    chosen = [one for one in parts.lines if (first or 0) <= one.number and (after is None or one.number < after)]
    if first is None:
        lines = [one.raw for one in chosen]
    else:
        lines = [*_down(parts, chosen[0].before), *_rest(parts, chosen, slow)]
    body = [*parts.opening, *lines, *(() if after is None else _closing(parts))]
    header = [*parts.header]
    said = header_lines([("note", note) for note in notes])
    at = next((k for k, entry in enumerate(header) if entry.startswith(f"({KEY}:")), len(header))
    header[at:at] = said if header else []
    return filled(filled(_text(parts, tuple(header), body), KEY, ""), PROOF_KEY, "")


def first_moving(parts: Parts, line: int) -> int:
    """``line``, or the next one that goes somewhere; 0 where there is none."""
    return next((one.number for one in parts.lines if one.number >= line and one.moves), 0)


def _must_be_inside(parts: Parts, line: int, file: str) -> None:
    if not any(one.number == line and one.moves for one in parts.lines) or not parts.first <= line <= parts.last:
        what = f"line {line} is none that its cutting could be taken up at"
        raise refuse(file, what, f"name a line from {parts.first} to {parts.last} that moves the cutter")


def _down(parts: Parts, force: _InForce) -> Iterator[str]:
    """From the safe height to where the tip was before."""
    x, y, z = force.place
    yield f"G0 X{x} Y{y}"
    if z != parts.safe_z:
        yield f"G1 Z{z} {parts.entry_feed}"
    yield from force.coolant


def _rest(parts: Parts, rest: list[Numbered], slow: bool) -> Iterator[str]:
    """The lines, the first with its motion said, and the feed in force said again where it counts first."""
    first, feed, due = rest[0], rest[0].before.feed, True
    for one in rest:
        raw, own = one.raw, _written(one.raw, "F")
        if one is first and not _says_motion(one):
            raw = f"G{one.motion} {raw}"
        if one is first and slow and one.motion in CUTTING:
            feed = f"F{own}" if own else feed
            raw = f"{_without(raw, 'F')} {parts.entry_feed}"
        elif own:
            due = False
        elif due and one.moves and one.motion in CUTTING:
            raw, due = f"{raw} {feed}", False
        yield raw


def _closing(parts: Parts) -> tuple[str, ...]:
    return (f"G0 Z{parts.safe_z}", "M5", "M2")


def _text(parts: Parts, header: tuple[str, ...], body: list[str]) -> str:
    if parts.numbered:
        body = [f"N{k % 99999 + 1} {line}" for k, line in enumerate(body)]
    return "\n".join([*header, *body, ""])


def _by_letter(line: Line) -> Words:
    if line.worked_out or line.settings or line.slashed:
        raise Wrong("it holds parameters, or may be left out by a switch")
    letters: Words = {}
    for letter, value in line.words:
        letters.setdefault(letter, []).append(value)
    for g in letters.get("g", []):
        if g not in KNOWN:
            raise Wrong(f"G{g:g} is not among the words that are understood here")
    for m in letters.get("m", []):
        if m not in KNOWN_M:
            raise Wrong(f"M{m:g} is not among the words that are understood here")
    return letters


def _motion(before: int, line: Line, letters: Words) -> int:
    said = [int(g) for g in letters.get("g", []) if g in (0, 1, 2, 3, *CYCLES)]
    if said:
        return said[-1]
    return -1 if 80 in letters.get("g", []) else before


def _says_motion(one: Numbered) -> bool:
    return any(letter == "g" and value in (0, 1, 2, 3, *CYCLES) for letter, value in one.line.words)


def _after(force: _InForce, bare: str, letters: Words, motion: int, moves: bool) -> _InForce:
    place = tuple(_written(bare, axis) or before for axis, before in zip("XYZ", force.place))
    if motion in CYCLES and moves:
        place = (place[0], place[1], _written(bare, "R"))  # G99: back to where the hole began
    coolant = force.coolant
    for m in letters.get("m", []):
        coolant = () if m == 9 else (*coolant, f"M{m:g}") if m in (7, 8) else coolant
    feed = f"F{own}" if (own := _written(bare, "F")) else force.feed
    high = motion == 0 if moves else force.high
    return replace(force, motion=motion, feed=feed, place=(place[0], place[1], place[2]), coolant=coolant, high=high)


def _bare(raw: str) -> str:
    """The line without its number and comments; words apart, as this project writes them."""
    code = raw.split("(", 1)[0].strip().upper()
    words = code.split()
    return " ".join(words[1:] if words and words[0].startswith("N") else words)


def _written(bare: str, letter: str) -> str:
    """A word's number as it stands in the text, '' where there is none."""
    return next((word[1:] for word in bare.split() if word[0] == letter), "")


def _without(bare: str, letter: str) -> str:
    return " ".join(word for word in bare.split() if word[0] != letter)
