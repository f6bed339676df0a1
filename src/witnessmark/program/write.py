"""Strokes to RS-274 text: one file for a cutter in a placement.

Source  NIST IR 6556 (from memory): words, order of execution, arcs by centre offsets I J from the start.
Places are rounded once, to whole counts of the format's least decimal, and everything is worked out from those
counts, so that the text means exactly what was checked against the travel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.assembly import assembly_of
from witnessmark.job.errors import refuse
from witnessmark.job.models import Cutter, Machine
from witnessmark.job.units import MM_PER_INCH
from witnessmark.path.strokes import CUT, ENTRY, RAPID, Strokes

from .drilling import Hole, holes_in
from .fit import fit_arcs
from .header import header_lines
from .lines import (
    FEED,
    FEED_ROOM,
    KNOWN,
    LARGEST_LINE_NUMBER,
    LINES,
    LONGEST_LINE,
    MOTION,
    NONE,
    X,
    words_in_force,
    write_lines,
)
from .number import counts, shown, shown_count

Counts = NDArray[np.int64]

ARC_TOLERANCE_MM = 0.005  # a tenth of the gouge tolerance a job starts with
END_MISMATCH_MM = 0.0015  # below the 0.002 mm at which the reader must refuse an arc (NIST IR 6556, from memory)


@dataclass(frozen=True)
class ProgramSpec:
    """What a program is for. ``shift_mm`` carries the standing frame to the program frame (x, y)."""

    job: str
    piece: str
    placement: str
    side_up: str
    cutter: Cutter
    cutter_number: int
    machine: Machine
    shift_mm: tuple[float, float] = (0.0, 0.0)
    turn_rad: float = 0.0
    blank: str = ""
    origin: str = "bed x, y from the front left corner of the travel; z 0 is the supporting face"
    touch_off: str = ""
    minutes: str = ""
    notes: tuple[str, ...] = field(default=())
    safe_z_mm: float | None = None
    spin_up_s: float = 3.0
    arc_tolerance_mm: float = ARC_TOLERANCE_MM

    @property
    def step_mm(self) -> float:
        """The format's least decimal, mm."""
        controller = self.machine.controller
        return float(10.0**-controller.decimals * (MM_PER_INCH if controller.units == "inch" else 1.0))

    def travel_mm(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lowest and highest tip (3,) in the program frame, mm."""
        machine = self.machine
        tip_below_nose_mm = assembly_of(self.cutter, machine).tip_below_nose_mm
        top_mm = machine.nose_above_bed_mm - tip_below_nose_mm - machine.support_z_bed_mm
        highest = np.array([machine.travel_x_mm, machine.travel_y_mm, top_mm])
        return np.array([0.0, 0.0, top_mm - machine.travel_z_mm]), highest


def write_program(strokes: Strokes, spec: ProgramSpec) -> str:
    """The program's text; Refusal where a stroke leaves the travel.

    The fingerprint line is blank; see ``fingerprint.stamped``. Arcs stand for runs of level strokes within
    ``spec.arc_tolerance_mm`` where the controller takes arcs.
    """
    points, mode = _rounded(strokes, spec)
    if not len(mode):
        raise refuse(_where(spec), "there is nothing to cut", "leave this cutter out of the placement")
    inside_travel(points, spec)
    safe = _safe_height(points, spec)
    body = Body(spec)
    body.opening(points[0], safe)
    cutting(body, points, mode, _arcs(points, mode, spec))
    body.closing(safe)
    header = header_lines(entries(spec)) if spec.machine.controller.comments else []
    return "\n".join([*header, *body.lines, ""])


def cutting(body: Body, points: Counts, mode: NDArray[np.int8], arcs: Counts) -> None:
    """All strokes; holes as drilling cycles where the controller takes them."""
    spec, at = body.spec, 0
    if spec.machine.controller.canned_cycles and spec.cutter.kind == "drill":
        for hole in holes_in(points, mode):
            body.strokes(points[at : hole.first + 1], mode[at : hole.first], _part(arcs, at, hole.first))
            body.drill(points[hole.first], hole)
            at = hole.after
    body.strokes(points[at:], mode[at:], _part(arcs, at, len(mode)))


def _part(arcs: Counts, first: int, after: int) -> Counts:
    """The arcs among some of the strokes, numbered from the first of them."""
    part = arcs[(arcs[:, 0] >= first) & (arcs[:, 1] <= after)].copy()
    part[:, :2] -= first
    return part


def _where(spec: ProgramSpec) -> str:
    return f"placement {spec.placement}, cutter {spec.cutter.name}"


def _rounded(strokes: Strokes, spec: ProgramSpec) -> tuple[Counts, NDArray[np.int8]]:
    """Places (n + 1, 3) in counts, program frame; strokes that rounding leaves without length are dropped."""
    c, s = math.cos(spec.turn_rad), math.sin(spec.turn_rad)
    x_mm, y_mm, z_mm = np.asarray(strokes.points_mm, dtype=np.float64).T
    moved = np.column_stack([c * x_mm - s * y_mm + spec.shift_mm[0], s * x_mm + c * y_mm + spec.shift_mm[1], z_mm])
    if not np.all(np.abs(moved) < 1e6):
        raise refuse(_where(spec), "a stroke ends at a place that is no number", "report this: it is a fault of ours")
    points = counts(moved, spec.step_mm)
    keep = np.any(np.diff(points, axis=0) != 0, axis=1)
    return points[np.concatenate([[True], keep])], strokes.mode[keep]


def tool_words(spec: ProgramSpec) -> list[str]:
    """How every program begins: all modes set, and the cutter called where the controller changes cutters."""
    controller = spec.machine.controller
    words = [f"G17 {'G20' if controller.units == 'inch' else 'G21'} G40 G49 G54 G80 G90 G94"]
    return [*words, f"T{spec.cutter_number} M6"] if controller.tool_change else words


def inside_travel(points: Counts, spec: ProgramSpec) -> None:
    lowest, highest = spec.travel_mm()
    places = points * spec.step_mm
    beyond = np.maximum(lowest - places, places - highest)
    worst = int(np.argmax(beyond.max(axis=1)))
    by_mm = float(beyond[worst].max())
    if by_mm > spec.step_mm / 2:
        axis = "xyz"[int(np.argmax(beyond[worst]))]
        x, y, z = places[worst]
        raise refuse(
            _where(spec),
            f"the cutter's tip would leave the {axis} travel at x {x:.2f} y {y:.2f} z {z:.2f}",
            "shift the placement" if axis != "z" else "set the cutter at another stick-out",
            "split what this placement cuts",
            by=f"by {by_mm:.2f} mm",
        )


def _safe_height(points: Counts, spec: ProgramSpec) -> int:
    """Counts: the given safe height, or the highest place of the path; never above the travel."""
    path_top = int(points[:, 2].max())
    if spec.safe_z_mm is None:
        return path_top
    top = math.floor(float(spec.travel_mm()[1][2]) / spec.step_mm)
    return max(path_top, min(round(spec.safe_z_mm / spec.step_mm), top))


def _arcs(points: Counts, mode: NDArray[np.int8], spec: ProgramSpec) -> Counts:
    """Rows of ``fit_arcs``; none where the controller takes no arcs."""
    usable = (np.diff(points[:, 2]) == 0) & (mode != RAPID) & _well_inside(points, spec)
    if not (spec.machine.controller.arcs and usable.any()):
        return np.empty((0, 5), dtype=np.int64)
    run = np.concatenate([[0], np.cumsum(np.diff(mode) != 0)]).astype(np.int64)
    x, y = points[:, 0].astype(np.float64), points[:, 1].astype(np.float64)
    tolerance, mismatch = spec.arc_tolerance_mm / spec.step_mm, END_MISMATCH_MM / spec.step_mm
    rows: Counts = fit_arcs(x, y, usable, run, tolerance, mismatch)
    return rows


def _well_inside(points: Counts, spec: ProgramSpec) -> NDArray[np.bool_]:
    """Which strokes keep away from the edge of the x, y travel by more than an arc may bulge beyond them."""
    lowest, highest = spec.travel_mm()
    margin_mm = spec.arc_tolerance_mm + spec.step_mm
    places = points[:, :2] * spec.step_mm
    inside = np.all((places > lowest[:2] + margin_mm) & (places < highest[:2] - margin_mm), axis=1)
    return np.asarray(inside[1:] & inside[:-1])


def entries(spec: ProgramSpec) -> list[tuple[str, str]]:
    c, controller = spec.cutter, spec.machine.controller
    sizes = f"{c.kind} {c.diameter_mm:g} mm, flutes {c.flute_length_mm:g} mm, stick-out {c.stickout_mm:g} mm, "
    sizes += f"shank {c.shank_diameter_mm:g} mm"
    if c.corner_radius_mm:
        sizes += f", corner {c.corner_radius_mm:g} mm"
    if c.included_angle_deg:
        sizes += f", included angle {c.included_angle_deg:g} deg"
    return [
        ("job", spec.job),
        ("piece", spec.piece),
        ("placement", spec.placement),
        ("side up", spec.side_up),
        ("machine", spec.machine.name),
        ("cutter number", str(spec.cutter_number)),
        ("cutter", c.name),
        ("cutter sizes", sizes),
        ("blank", spec.blank),
        ("origin", spec.origin),
        ("touch-off", spec.touch_off),
        ("units", "inch" if controller.units == "inch" else "mm"),
        ("arc tolerance", f"{spec.arc_tolerance_mm:g} mm" if controller.arcs else "no arcs"),
        *(("note", note) for note in spec.notes),
        ("minutes", spec.minutes),
        ("fingerprint", ""),
        ("proof", ""),
    ]


class Body:
    """The lines of the program, and the words now in force."""

    def __init__(self, spec: ProgramSpec) -> None:
        self.spec = spec
        self.lines: list[str] = []
        self.count = 0
        self.decimals = spec.machine.controller.decimals
        self.numbered = spec.machine.controller.line_numbers
        self.inch = spec.machine.controller.units == "inch"
        self.motion = ""
        self.feed = ""
        self.place: list[int | None] = [None, None, None]

    def line(self, text: str) -> None:
        if self.numbered:
            text = f"N{self.count % LARGEST_LINE_NUMBER + 1} {text}"
        self.lines.append(text)
        self.count += 1

    def opening(self, first: Counts, safe: int) -> None:
        """Set every mode, raise the cutter, start the spindle, go above the start and down to it."""
        machine, cutter = self.spec.machine, self.spec.cutter
        for words in tool_words(self.spec):
            self.line(words)
        self.move("G0", (None, None, safe), "")
        rpm = min(max(cutter.spindle_rpm, machine.spindle_min_rpm), machine.spindle_max_rpm)
        self.line(f"S{shown(math.floor(rpm), 0)} M3")
        if self.spec.spin_up_s > 0:
            self.line(f"G4 P{shown(self.spec.spin_up_s, 2)}")
        self.move("G0", (int(first[0]), int(first[1]), None), "")
        self.move("G1", (None, None, int(first[2])), self.feed_word(ENTRY))

    def strokes(self, points: Counts, mode: NDArray[np.int8], arcs: Counts) -> None:
        """Strokes from one place on, in one go."""
        if not len(mode):
            return
        feeds = ["", self.feed_word(CUT), self.feed_word(ENTRY)]
        table = np.zeros((len(feeds), FEED_ROOM), dtype=np.uint8)
        for row, feed in zip(table, feeds):
            row[: len(feed)] = np.frombuffer(feed.encode("ascii"), dtype=np.uint8)
        feed_of_mode = np.full(3, NONE, dtype=np.int64)
        feed_of_mode[[CUT, ENTRY]] = [feeds.index(feeds[1]), feeds.index(feeds[2])]
        words = words_in_force(self.count)
        words[MOTION] = {"": NONE, "G0": 0, "G1": 1}[self.motion]
        words[FEED] = feeds.index(self.feed) if self.feed else NONE
        for axis, place in enumerate(self.place):
            if place is not None:
                words[X + axis] = place
                words[KNOWN] |= 1 << axis
        text = np.empty(LONGEST_LINE * len(mode), dtype=np.uint8)
        length = write_lines(
            points, np.ascontiguousarray(mode), arcs, self.decimals, self.numbered, feed_of_mode, table, words, text
        )
        if length:
            self.lines.append(text[: length - 1].tobytes().decode("ascii"))
        self.count = int(words[LINES])
        self.motion = "" if words[MOTION] == NONE else f"G{words[MOTION]}"
        self.feed = "" if words[FEED] == NONE else feeds[words[FEED]]
        self.place = [int(words[X + axis]) if words[KNOWN] >> axis & 1 else None for axis in range(3)]

    def drill(self, at: Counts, hole: Hole) -> None:
        """A hole as a cycle: down from the height it began at, and back to it."""
        x, y = (axis + shown_count(int(count), self.decimals) for axis, count in zip("XY", at))
        z, r = shown_count(hole.bottom, self.decimals), shown_count(hole.clear, self.decimals)
        cycle, peck = ("G83", f" Q{shown_count(hole.peck, self.decimals)}") if hole.peck else ("G81", "")
        self.line(f"G99 {cycle} {x} {y} Z{z} R{r}{peck}{self.new_feed(self.feed_word(ENTRY))}")
        self.line("G80")
        self.motion = ""
        self.place = [int(at[0]), int(at[1]), hole.clear]

    def closing(self, safe: int) -> None:
        self.move("G0", (None, None, safe), "")
        self.line("M5")
        self.line("M2")

    def feed_word(self, mode: int) -> str:
        """The feed of a mode of stroke, never above what the machine allows: rounded down."""
        machine, cutter = self.spec.machine, self.spec.cutter
        feed_mm_min = min(cutter.feed_mm_min, machine.feed_max_mm_min)
        if mode == ENTRY:
            feed_mm_min = min(cutter.entry_feed_mm_min, machine.feed_max_mm_min, machine.rapid_z_mm_min)
        decimals = 2 if self.inch else 1
        feed = feed_mm_min / (MM_PER_INCH if self.inch else 1.0)
        return "F" + shown_count(max(1, math.floor(feed * 10**decimals + 1e-9)), decimals)

    def move(self, motion: str, to: tuple[int | None, ...], feed: str) -> None:
        """A straight move; words that would change nothing are left out."""
        words = [motion] if motion != self.motion else []
        for axis, count in enumerate(to):
            if count is not None and count != self.place[axis]:
                words.append("XYZ"[axis] + shown_count(count, self.decimals))
                self.place[axis] = count
        if not words or words == [motion]:
            return
        self.motion = motion
        self.line(" ".join(words) + self.new_feed(feed))

    def new_feed(self, feed: str) -> str:
        if not feed or feed == self.feed:
            return ""
        self.feed = feed
        return " " + feed
