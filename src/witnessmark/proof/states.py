"""What a program's words alone give away: travel, spindle, feeds, depth below the supporting face, its header."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from witnessmark.job.assembly import Assembly
from witnessmark.job.models import Cutter, Machine
from witnessmark.job.placement import Placement
from witnessmark.program.motion import DWELL, RAPID, MotionTable

from .charges import Dock
from .finding import Finding
from .passes import chorded
from .verdict import ProgramText

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROUNDING_MM = 0.002  # the last decimal of a program in mm or inches
CUT_MM = 0.02  # wood taken to less than this is a graze at a surface already cut
FEED_RATIO = 1.001
STEEP_RATIO = 1.0  # going down steeper than 45 degrees is a plunge


def travel_findings(
    rows: Floats, parent: NDArray[np.int64], dock: Dock, assembly: Assembly, machine: Machine
) -> list[Finding]:
    """Places (rows of moves in the program frame) where the machine cannot go."""
    straight, row, _ = chorded(rows)
    ends = np.concatenate([straight[:, :3], straight[:, 3:6]])
    motion = np.concatenate([parent[row], parent[row]])
    top = machine.nose_above_bed_mm - assembly.tip_below_nose_mm - machine.support_z_bed_mm
    low = np.array([0.0, 0.0, top - machine.travel_z_mm])
    high = np.array([machine.travel_x_mm, machine.travel_y_mm, top])
    found: list[Finding] = []
    for axis, name in enumerate("xyz"):
        beyond = np.full(len(dock.lines), -np.inf)
        np.maximum.at(beyond, motion, np.maximum(low[axis] - ends[:, axis], ends[:, axis] - high[axis]))
        remedy = (
            ("shift the placement on the bed",)
            if axis < 2
            else ("set the cutter at another stick-out", "put the work on a thinner or thicker board")
        )
        found += dock.charge(
            "outside travel",
            "stop",
            beyond > ROUNDING_MM,
            beyond,
            lambda i, n=name, b=beyond, a=axis: (  # type: ignore[misc]
                f"the tip would go {b[i]:.2f} mm beyond the {n} travel ({low[a]:.1f} to {high[a]:.1f} mm)"
            ),
            remedy,
        )
    return found


def support_findings(table: MotionTable, dock: Dock) -> list[Finding]:
    """Moves whose tip goes below the supporting face."""
    depth = -np.minimum(table.start_mm[:, 2], table.end_mm[:, 2])
    return dock.charge(
        "into the supporting face",
        "stop",
        (depth > ROUNDING_MM) & (table.kind != DWELL),
        depth,
        lambda i: f"the tip goes {depth[i]:.2f} mm into the board that the work lies on",
        ("raise the lowest cut of this placement", "touch off on the board, not on the blank's top"),
    )


def cutting_findings(
    table: MotionTable, cut_mm: Floats, dock: Dock, cutter: Cutter, machine: Machine
) -> list[Finding]:
    """Spindle and feed while wood is cut; ``cut_mm`` (n,) is the height of wood that each motion takes."""
    moving = table.kind != DWELL
    cutting = moving & (cut_mm > CUT_MM)
    at_feed = moving & (table.kind != RAPID)
    rpm, feed = np.abs(table.spindle_rpm), np.nan_to_num(table.feed_mm_min, nan=0.0)
    out = np.maximum(machine.spindle_min_rpm - rpm, rpm - machine.spindle_max_rpm)
    range_text = f"{machine.spindle_min_rpm:.0f} to {machine.spindle_max_rpm:.0f} rpm"
    found = dock.charge(
        "rapid through wood",
        "stop",
        cutting & (table.kind == RAPID),
        cut_mm,
        lambda i: f"a rapid move goes through {cut_mm[i]:.2f} mm of wood",
        ("raise the joining moves above the wood", "go down at the entry feed"),
    )
    found += dock.charge(
        "spindle off while cutting",
        "stop",
        cutting & (rpm == 0.0),
        cut_mm,
        lambda i: f"the spindle stands still where the cutter takes {cut_mm[i]:.2f} mm of wood",
        ("start the spindle (M3 with S) before the first cut",),
    )
    found += dock.charge(
        "spindle turns backwards",
        "stop",
        cutting & (table.spindle_rpm < 0),
        cut_mm,
        lambda i: "the spindle turns against the clock (M4), and the cutter would rub, not cut",
        ("start it with M3",),
    )
    found += dock.charge(
        "spindle speed out of range",
        "stop",
        cutting & (rpm > 0) & (out > 0.5),
        out,
        lambda i: f"{rpm[i]:.0f} rpm is asked for; this spindle turns at {range_text}",
        ("set the cutter's spindle speed within the machine's range",),
    )
    found += dock.charge(
        "no feed",
        "stop",
        at_feed & (feed <= 0.0),
        np.ones(len(table)),
        lambda i: "the move has no feed, so that the machine stands still or runs at the last one it knew",
        ("give a feed (F) before the first cut",),
    )
    limit = machine.feed_max_mm_min
    return found + dock.charge(
        "feed too fast",
        "warning",
        at_feed & (feed > limit * FEED_RATIO),
        feed - limit,
        lambda i: f"a feed of {feed[i]:.0f} mm/min is asked for; the machine's greatest is {limit:.0f}",
        ("lower the cutter's feed",),
    )


def plunge_findings(table: MotionTable, cut_mm: Floats, dock: Dock, cutter: Cutter) -> list[Finding]:
    """Going down into wood with a cutter that does not cut at its centre, or faster than its entry feed."""
    run = np.hypot(table.end_mm[:, 0] - table.start_mm[:, 0], table.end_mm[:, 1] - table.start_mm[:, 1])
    down = table.start_mm[:, 2] - table.end_mm[:, 2]
    straight = (table.kind != DWELL) & (table.kind < 2)
    plunge = straight & (down > CUT_MM) & (down > STEEP_RATIO * run) & (cut_mm > CUT_MM)
    depth = np.minimum(down, cut_mm)
    if not cutter.plunges:
        return dock.charge(
            "plunge without centre cutting",
            "stop",
            plunge,
            depth,
            lambda i: f"{cutter.name} does not cut at its centre and goes {depth[i]:.2f} mm straight down into wood",
            ("go in by a ramp or a helix", "use a cutter that cuts at its centre"),
        )
    feed = np.nan_to_num(table.feed_mm_min, nan=0.0)
    fast = plunge & (table.kind != RAPID) & (feed > cutter.entry_feed_mm_min * FEED_RATIO)
    return dock.charge(
        "plunge feed",
        "note",
        fast,
        feed - cutter.entry_feed_mm_min,
        lambda i: f"goes straight down into wood at {feed[i]:.0f} mm/min; entry feed {cutter.entry_feed_mm_min:.0f}",
        ("go down at the entry feed",),
    )


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9.+-]+", " ", text.lower()).strip()


def header_findings(table: MotionTable, program: ProgramText, cutter: Cutter, placement: Placement) -> list[Finding]:
    """What the header says against what the program is to be run with; remarks of the reader."""
    header = table.header
    found: list[Finding] = []

    def wrong(kind: str, what: str, remedy: str) -> None:
        found.append(Finding(kind, what, "stop", None, "program", program.placement, program.file, 0, 0.0, (remedy,)))

    if "cutter" in header and _plain(header["cutter"]) != _plain(cutter.name):
        what = f"its header says cutter {header['cutter']}, and {cutter.name} is in the collet"
        wrong("wrong cutter", what, f"put {header['cutter']} in, or write the program again for {cutter.name}")
    for what in _size_faults(header.get("cutter sizes", ""), cutter):
        wrong("wrong cutter", what, "set the cutter as the program says, or write the program again")
    if "cutter number" in header and len(table):
        called = set(table.cutter[table.cutter > 0].tolist())
        if called and str(max(called)) != header["cutter number"].strip():
            what = f"it calls cutter {max(called)}, and its header says {header['cutter number']}"
            wrong("wrong cutter", what, "write the program again")
    if "side up" in header and header["side up"].split()[:1] != [placement.up]:
        what = f"it is for side {header['side up']} up, and side {placement.up} is up"
        wrong("wrong side up", what, "turn the blank over, or run the other placement's program")
    if "placement" in header and _plain(header["placement"]) != _plain(placement.name):
        what = f"it is for placement {header['placement']}, and the work stands as in {placement.name}"
        wrong("wrong placement", what, "run the programs in the order of the bench sheet")
    return found + [_remark(r.line, r.what, r.harm, program) for r in table.remarks]


def number_findings(table: MotionTable, program: ProgramText, cutter: Cutter, number: int) -> list[Finding]:
    """T words that call another cutter than the file's own, whose place in the job (from 1) is ``number``."""
    moving = table.kind != DWELL
    wrong = moving & (table.cutter > 0) & (table.cutter != number)
    return Dock(program.file, program.placement, table.line, table.end_mm).charge(
        "wrong cutter",
        "stop",
        wrong,
        np.ones(len(table)),
        lambda i: f"it calls cutter T{table.cutter[i]}, and {cutter.name} is T{number}: its place in the job",
        ("write the program again", "or list the cutters in the job in the order they had"),
    )


def _remark(line: int, what: str, harm: str, program: ProgramText) -> Finding:
    kind, weight = ("cannot be read", "stop") if harm == "error" else ("remark", "note")
    remedies = ("correct this line, and prove the program again",) if harm == "error" else ()
    return Finding(kind, what, weight, None, "program", program.placement, program.file, line, 0.0, remedies)  # type: ignore[arg-type]


_SIZES = (
    ("stick-out", r"stick-out\s+([\d.]+)\s*mm", "stickout_mm"),
    ("flutes", r"flutes\s+([\d.]+)\s*mm", "flute_length_mm"),
    ("diameter", r"^\s*\S+\s+([\d.]+)\s*mm", "diameter_mm"),
)


def _size_faults(sizes: str, cutter: Cutter) -> list[str]:
    faults = []
    for name, pattern, field in _SIZES:
        match = re.search(pattern, sizes)
        if match and abs(float(match.group(1)) - getattr(cutter, field)) > 0.05:
            faults.append(f"it was written for {name} {match.group(1)} mm, and it is {getattr(cutter, field):g} mm")
    return faults
