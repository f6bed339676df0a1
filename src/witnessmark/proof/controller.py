"""What a program uses against what the machine's controller takes."""

from __future__ import annotations

import numpy as np

from witnessmark.job.models import Controller
from witnessmark.program.motion import (
    ARC_BY_RADIUS,
    ARC_CCW,
    ARC_CW,
    BESIDE,
    CALLS_CUTTER,
    COMMENT,
    CYCLE,
    EXPRESSION,
    PROBING,
    MotionTable,
)

from .finding import Finding
from .verdict import ProgramText

ARCS = "arcs (G2, G3)"
KEYS = {
    ARCS: "arcs",
    ARC_BY_RADIUS: "radius_arcs",
    CYCLE: "canned_cycles",
    BESIDE: "radius_compensation",
    PROBING: "probing",
    EXPRESSION: "expressions",
    CALLS_CUTTER: "tool_change",
    COMMENT: "comments",
}


def controller_findings(table: MotionTable, program: ProgramText, controller: Controller) -> list[Finding]:
    """A stop for everything that the job says the controller does not take, with the line that uses it first."""
    used = dict(table.used)
    arcs = np.flatnonzero((table.kind == ARC_CW) | (table.kind == ARC_CCW))
    if len(arcs):
        used[ARCS] = int(table.line[arcs].min())
    found = []
    for what, key in KEYS.items():
        if what in used and not getattr(controller, key):
            remedies = (
                "write the program without it",
                f"if the controller's manual says that it does, set machine.controller.{key} = true",
            )
            words = f"it uses {what}, which the controller is said not to take"
            place = ("program", program.placement, program.file, used[what], 0.0, remedies)
            found.append(Finding("beyond the controller", words, "stop", None, *place))
    return found
