"""The fingerprint of a proof: it changes when anything changes that the verdict rests on.

Source  SHA-256: FIPS 180-4
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np

from witnessmark import __version__
from witnessmark.field.columns import Columns
from witnessmark.job.models import Cutter, Machine, Settings
from witnessmark.job.placement import Placement
from witnessmark.program.fingerprint import GROUPS, fingerprint
from witnessmark.shapes.solid import Solid

from .verdict import ProgramText

PLACES = 6  # decimals of a mm to which the piece and the placements count


def proof_fingerprint(
    programs: Sequence[ProgramText],
    solid: Solid,
    machine: Machine,
    cutters: Sequence[Cutter],
    placements: Mapping[str, Placement],
    settings: Settings,
    poses_mm_rad: Mapping[str, tuple[float, float, float]],
    wood: str = "",
) -> str:
    """Over the programs in order (each with its fingerprint line blank), the piece, machine, cutters, placements,
    settings and this version of the tool. Four hexadecimal digits a group; the same on every machine.

    ``wood``: what the blank was before the first program, in words of ``wood_words``.
    """
    digest = hashlib.sha256()

    def add(*parts: str) -> None:
        for part in parts:
            digest.update(part.encode("utf-8", "surrogatepass") + b"\0")

    add("witnessmark", __version__)
    for program in programs:
        add(program.file, program.placement, program.cutter, fingerprint(program.text), repr(program.origin_mm))
    add(machine.model_dump_json(), settings.model_dump_json(), wood)
    for cutter in cutters:
        add(cutter.model_dump_json())
    for name in sorted({program.placement for program in programs}):
        add(name, _placement_text(placements[name]), repr(poses_mm_rad.get(name, (0.0, 0.0, 0.0))))
    digest.update((np.round(solid.triangles, PLACES) + 0.0).astype("<f8").tobytes())
    digits = digest.hexdigest().upper()
    return "-".join(digits[4 * i : 4 * i + 4] for i in range(GROUPS))


def wood_words(columns: Columns) -> str:
    """The blank's ends where it is whole; of one that is not, a digest of all that is left besides."""
    ends = repr((columns.ends_mm, columns.z_from_mm, columns.z_to_mm))
    low, high = np.float32(columns.z_from_mm), np.float32(columns.z_to_mm)
    if bool((columns.low == low).all()) and bool((columns.high == high).all()):
        return ends
    digest = hashlib.sha256()
    for part in (columns.first, columns.low, columns.high):
        digest.update(np.ascontiguousarray(part).tobytes())
    return ends + digest.hexdigest()


def _placement_text(placement: Placement) -> str:
    numbers = np.concatenate([placement.stand.rotation.ravel(), placement.stand.translation_mm])
    numbers = np.round(numbers, PLACES) + 0.0
    hardware = [asdict(hold) for hold in placement.holds] + [asdict(part) for part in placement.obstacles]
    return repr(
        (placement.up, numbers.tolist(), placement.shift_mm, placement.support_z_bed_mm, placement.touch_off_mm)
    ) + repr(hardware)
