"""What a line does, in the order in which its words act.

Source  NIST IR 6556, Table 8, order of execution (items 1 to 13 as quoted from it, 14 to 21 from memory); effects of
        the codes from memory.
Whatever is not carried out raises Wrong: nothing is passed over in silence.
"""

from __future__ import annotations

from collections.abc import Callable

from . import codes
from .codes import Block, name_of_g, whole
from .cycles import EXPANDED, run_cycle
from .motion import BESIDE, CALLS_CUTTER, CYCLE, PROBING
from .record import Record
from .state import NOWHERE, State
from .trace import dwell, finish_contour, go_round, go_straight, probe
from .wrong import Wrong

MM_PER_INCH = 25.4  # exact by definition
NO_MOTION = 800
G38_2 = 382
SIDES = {410: 1, 420: -1}
_NOT_WHILE_BESIDE = (G38_2, 100, 170, 180, 190, 280, 300, 530, 920, 921, 922, 923, *EXPANDED)
_USED_BY: dict[str, tuple[int, ...]] = {
    "d": (410, 420),
    "h": (430,),
    "l": (100, *EXPANDED),
    "p": (40, 100, 820, 860, 880, 890),
    "q": (830,),
    "r": (20, 30, *EXPANDED),
    "i": (20, 30, 870),
    "j": (20, 30, 870),
    "k": (20, 30, 870),
}


def execute(block: Block, st: State, rec: Record, line: int) -> None:
    """Carry out one line; Wrong (before anything is done, where it can be told) when it cannot be."""
    motion = _motion_of(block, st)
    _refuse_unknown(block)
    _refuse_beside(block, motion, st)
    _refuse_idle_words(block, motion)
    for step in _ORDER:
        step(block, st, rec, line)
    _act(motion, block, st, rec, line)
    _stop(block, st, rec)


def _motion_of(block: Block, st: State) -> int | None:
    """The motion this line makes: its own, or the one in force if it has axis words that nothing else uses."""
    axis_code = block.g.get(codes.NONMODAL)
    takes_axes = axis_code in codes.AXIS_NONMODAL
    own = block.g.get(codes.MOTION)
    if own is not None:
        if takes_axes and axis_code is not None and own != NO_MOTION:
            raise Wrong(f"{name_of_g(axis_code)} and {name_of_g(own)} both want the axis words of one line")
        if own == NO_MOTION and block.has_axes and not takes_axes:
            raise Wrong("G80 makes no motion, so X, Y or Z on its line mean nothing")
        return own
    if not block.has_axes or takes_axes:
        return None
    if st.motion == NO_MOTION:
        raise Wrong("X, Y or Z stand here with no motion in force (G0, G1, G2 or G3)")
    return st.motion


def _refuse_unknown(block: Block) -> None:
    for letter in "abc":
        if letter in block.words:
            raise Wrong(f"{letter.upper()} turns an axis that this kind of machine does not have")


def _refuse_beside(block: Block, motion: int | None, st: State) -> None:
    """What may not stand where the cutter is kept beside a contour (G41, G42)."""
    if not st.side or block.g.get(codes.RADIUS_COMP) == 400:
        return
    for code in (*block.g.values(), motion):
        if code in _NOT_WHILE_BESIDE:
            raise Wrong(f"{name_of_g(code)} may not stand between G41 or G42 and G40")
    if codes.SYSTEM in block.g:
        raise Wrong("the coordinate system may not change between G41 or G42 and G40")
    if codes.CHANGE in block.m:
        raise Wrong("the cutter may not be changed (M6) between G41 or G42 and G40")


def _refuse_idle_words(block: Block, motion: int | None) -> None:
    """A word that no code of its line uses is an error, not something to pass over."""
    active = {*block.g.values(), motion}
    for letter, users in _USED_BY.items():
        if letter in block.words and not active.intersection(users):
            raise Wrong(f"{letter.upper()} is used by nothing on this line")


def _feed_mode(block: Block, st: State, rec: Record, line: int) -> None:
    code = block.g.get(codes.FEED_MODE)
    if code is not None and (code == 940) != st.per_minute:
        st.per_minute = code == 940
        st.feed_mm_min = 0.0


def _feed(block: Block, st: State, rec: Record, line: int) -> None:
    if "f" not in block.words:
        return
    if block.words["f"] < 0:
        raise Wrong("a feed (F) cannot be negative")
    if st.per_minute:
        st.feed_mm_min = block.words["f"] * st.scale
    else:
        st.feed_word = block.words["f"]
    unit = block.g.get(codes.UNITS)
    if unit is not None and (unit == 200) != (st.scale != 1.0):
        rec.remark(line, "F acts before the change of units on its line (order of execution)", "note")


def _speed(block: Block, st: State, rec: Record, line: int) -> None:
    if "s" in block.words:
        if block.words["s"] < 0:
            raise Wrong("a spindle speed (S) cannot be negative")
        st.rpm = block.words["s"]


def _select_cutter(block: Block, st: State, rec: Record, line: int) -> None:
    if "t" in block.words:
        st.next_cutter = whole("t", block.words["t"], 0, 99999)


def _change_cutter(block: Block, st: State, rec: Record, line: int) -> None:
    if codes.CHANGE in block.m:
        rec.use(CALLS_CUTTER, line)
        st.cutter = st.next_cutter
        st.spindle_way = 0


def _spindle(block: Block, st: State, rec: Record, line: int) -> None:
    code = block.m.get(codes.SPINDLE)
    if code is not None:
        st.spindle_way = {3: 1, 4: -1, 5: 0}[code]


def _dwell(block: Block, st: State, rec: Record, line: int) -> None:
    if block.g.get(codes.NONMODAL) == 40:
        if "p" not in block.words:
            raise Wrong("G4 needs P, the seconds to wait")
        dwell(block.words["p"], st, rec, line)


def _plane(block: Block, st: State, rec: Record, line: int) -> None:
    if codes.PLANE in block.g:
        st.plane = block.g[codes.PLANE] // 10


def _units(block: Block, st: State, rec: Record, line: int) -> None:
    if codes.UNITS in block.g:
        st.scale = MM_PER_INCH if block.g[codes.UNITS] == 200 else 1.0
        st.units_said = True
    elif not st.units_said and (block.has_axes or "f" in block.words):
        rec.remark(line, "no G20 or G21 before this line: mm are taken", "note")
        st.units_said = True


def _radius_comp(block: Block, st: State, rec: Record, line: int) -> None:
    code = block.g.get(codes.RADIUS_COMP)
    if code == 400:
        finish_contour(st, rec)
    elif code is not None:
        _begin_contour(code, block, st, rec, line)


def _begin_contour(code: int, block: Block, st: State, rec: Record, line: int) -> None:
    if st.side:
        raise Wrong(f"{name_of_g(code)} stands here with compensation on already: G40 first")
    if st.plane != 17:
        raise Wrong(f"{name_of_g(code)} needs the plane G17")
    st.need_known((0, 1, 2))
    diameter_mm = st.given.diameter_mm
    if "d" in block.words:
        number = whole("d", block.words["d"], 0, 99999)
        diameter_mm = 0.0 if number == 0 else st.given.diameters_mm.get(number)
        if diameter_mm is None:
            raise Wrong(f"{name_of_g(code)} D{number}: how wide that cutter is was not given")
    if diameter_mm is None:
        raise Wrong(f"{name_of_g(code)} without D is for the cutter in the spindle, and how wide it is was not given")
    if diameter_mm == 0.0:
        rec.remark(line, f"{name_of_g(code)} with a cutter of no width moves nothing aside", "note")
        return
    rec.use(BESIDE, line)
    st.side, st.radius_mm, st.legs = SIDES[code], diameter_mm / 2, []
    st.middle = (st.position[0], st.position[1])


def _length_offset(block: Block, st: State, rec: Record, line: int) -> None:
    code = block.g.get(codes.LENGTH_OFFSET)
    if code == 490:
        st.length_mm = 0.0
    elif code == 430:
        if "h" not in block.words:
            raise Wrong("G43 needs H, the number of a length offset")
        number = whole("h", block.words["h"], 0, 99999)
        if number and number not in st.given.lengths_mm:
            rec.remark(line, f"G43 H{number}: no such length offset was given; nought is taken", "note")
        st.length_mm = st.given.lengths_mm.get(number, 0.0)
    st.refresh()


def _system(block: Block, st: State, rec: Record, line: int) -> None:
    code = block.g.get(codes.SYSTEM)
    if code is None:
        return
    st.system = code // 10 - 53 + code % 10
    if st.system != 1 and st.system not in st.origins:
        rec.remark(line, f"where {name_of_g(code)} has its origin was not given; that of G54 is taken")
    st.refresh()


def _distance(block: Block, st: State, rec: Record, line: int) -> None:
    if codes.DISTANCE in block.g:
        absolute = block.g[codes.DISTANCE] == 900
        if absolute != st.absolute:
            st.cycle_r_mm = st.cycle_z_mm = None
        st.absolute = absolute


def _return(block: Block, st: State, rec: Record, line: int) -> None:
    if codes.RETURN in block.g:
        st.retract_to_r = block.g[codes.RETURN] == 990


def _axis_settings(block: Block, st: State, rec: Record, line: int) -> None:
    code = block.g.get(codes.NONMODAL)
    if code in (280, 300):
        _go_home(code, block, st, rec, line)
    elif code == 100:
        _set_origin(block, st)
    elif code in (920, 921, 922, 923):
        _shift_92(code, block, st)


# NIST IR 6556, Table 8; path mode (item 16), coolant and overrides change nothing in the table
_ORDER: tuple[Callable[[Block, State, Record, int], None], ...] = (
    _feed_mode,
    _feed,
    _speed,
    _select_cutter,
    _change_cutter,
    _spindle,
    _dwell,
    _plane,
    _units,
    _radius_comp,
    _length_offset,
    _system,
    _distance,
    _return,
    _axis_settings,
)


def _go_home(code: int, block: Block, st: State, rec: Record, line: int) -> None:
    """Through the given place, by rapids, to the stored one; the whole machine goes, whichever axes are named."""
    to = [st.target(block, axis) for axis in range(3)]
    told = tuple(letter in block.words for letter in "xyz")
    go_straight(0, to, st, rec, line, told)
    home = st.given.homes_mm.get(code // 10)
    if home is None or 1 not in st.origins:
        st.known = [False] * 3
        raise Wrong(f"{name_of_g(code)} goes home, and where that is was not given")
    go_straight(0, [h - b for h, b in zip(home, st.base)], st, rec, line, (True, True, True))


def _set_origin(block: Block, st: State) -> None:
    if "l" not in block.words or whole("l", block.words["l"], 0, 99) != 2 or "p" not in block.words:
        raise Wrong("G10 is carried out with L2 and P1 to P9 only")
    number = whole("p", block.words["p"], 1, 9)
    if number not in st.origins or 1 not in st.origins:
        raise Wrong("G10 moves an origin, and where the origins lie was not given")
    x, y, z = st.origins[number]
    new = [block.words[c] * st.scale if c in block.words else old for c, old in zip("xyz", (x, y, z))]
    st.origins[number] = (new[0], new[1], new[2])
    st.refresh()


def _shift_92(code: int, block: Block, st: State) -> None:
    if code == 920:
        if not block.has_axes:
            raise Wrong("G92 needs X, Y or Z")
        for axis, letter in enumerate("xyz"):
            if letter in block.words:
                st.need_known((axis,))
                without = st.offset[axis] - st.shift_92[axis]
                st.shift_92[axis] = st.position[axis] - without - block.words[letter] * st.scale
        st.kept_92 = list(st.shift_92)
    elif code == 923:
        st.shift_92 = list(st.kept_92)
    else:
        st.shift_92 = list(NOWHERE)
        if code == 921:
            st.kept_92 = list(NOWHERE)
    st.refresh()


def _act(motion: int | None, block: Block, st: State, rec: Record, line: int) -> None:
    own = block.g.get(codes.MOTION)
    if own is not None and own != st.motion:
        st.cycle_r_mm = st.cycle_z_mm = None
        st.cycle_words = {}
        st.motion = own
    if motion is None or motion == NO_MOTION:
        if block.g.get(codes.NONMODAL) == 530:
            raise Wrong("G53 needs G0 or G1 with X, Y or Z")
        return
    if motion in (10, 20, 30) and not st.per_minute and "f" not in block.words:
        raise Wrong("with feeds in inverse time (G93) every cutting move needs its own F")
    if motion in (0, 10) and not block.has_axes:
        rec.remark(line, f"{name_of_g(motion)} stands without X, Y or Z: it moves nothing", "note")
    elif motion in (0, 10):
        _straight(motion // 10, block, st, rec, line)
    elif block.g.get(codes.NONMODAL) == 530:
        raise Wrong("G53 goes with G0 and G1 only")
    elif motion == G38_2:
        rec.use(PROBING, line)
        _probe(block, st, rec, line)
    elif motion in (20, 30):
        go_round(motion // 10, block, st, rec, line)
    else:
        rec.use(CYCLE, line)
        run_cycle(motion, block, st, rec, line)


def _straight(motion: int, block: Block, st: State, rec: Record, line: int) -> None:
    told = tuple(letter in block.words for letter in "xyz")
    if block.g.get(codes.NONMODAL) == 530:
        if 1 not in st.origins:
            raise Wrong("G53 goes to machine coordinates, and where program nought lies in them was not given")
        if not st.absolute:
            raise Wrong("G53 needs G90")
        to = [block.words[c] * st.scale - st.base[a] if told[a] else st.position[a] for a, c in enumerate("xyz")]
    else:
        to = [st.target(block, axis) for axis in range(3)]
    go_straight(motion, to, st, rec, line, told)


def _probe(block: Block, st: State, rec: Record, line: int) -> None:
    if not block.has_axes:
        raise Wrong("G38.2 needs X, Y or Z")
    if st.spindle_rpm != 0:
        raise Wrong("G38.2 is to run with the spindle standing still")
    if not st.per_minute:
        raise Wrong("G38.2 cannot run with feeds in inverse time (G93)")
    probe([st.target(block, axis) for axis in range(3)], st, rec, line)


def _stop(block: Block, st: State, rec: Record) -> None:
    if block.m.get(codes.STOP) in (2, 30):
        finish_contour(st, rec)
        st.ended = True
        st.spindle_way = 0
