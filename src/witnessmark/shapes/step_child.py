"""Run as a process of its own: STEP in, binary glTF out. A crash or a hang here cannot harm the tool."""

from __future__ import annotations

import sys

CHORD_MM = 0.01  # how far a flat triangle may stray from a curved face
TURN_RAD = 0.2


def main() -> int:
    import cascadio

    done = cascadio.step_to_glb(
        sys.argv[1],
        sys.argv[2],
        tol_linear=CHORD_MM,
        tol_angular=TURN_RAD,
        merge_primitives=True,
        use_parallel=False,
        include_brep=True,
        brep_types={"cylinder"},
    )
    return int(done)


if __name__ == "__main__":
    sys.exit(main())
