"""What turns with the cutter, as one stack."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.job.assembly import assembly_of
from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine

MACHINE = demonstration_machine()
FLAT_6, _, FLAT_3 = demonstration_cutters()


def test_the_stack_of_the_demonstration() -> None:
    """Flat 6, 32 mm of flutes and 45 mm out: shank to 45, nut to 65, nose above, radii half the diameters."""
    steps = [(s.kind, s.radius_mm, s.z_from_mm, s.z_to_mm) for s in assembly_of(FLAT_6, MACHINE).steps]
    assert steps == [("cut", 3, 0, 32), ("shank", 3, 32, 45), ("nut", 10, 45, 65), ("nose", 32.5, 65, 145)]


def test_a_thin_cutter_keeps_its_thick_shank() -> None:
    """Flat 3 on a 6 mm shank: above its 12 mm of flutes the stack is twice as wide as the cut."""
    assert [(s.kind, s.radius_mm) for s in assembly_of(FLAT_3, MACHINE).steps][:2] == [("cut", 1.5), ("shank", 3.0)]


def test_flutes_up_to_the_collet_leave_no_shank() -> None:
    """Where the flutes reach the nut there is no shank step, and what cuts ends at the nut."""
    short = FLAT_6.model_copy(update={"stickout_mm": 32.0})
    assert [step.kind for step in assembly_of(short, MACHINE).steps] == ["cut", "nut", "nose"]
    shorter = FLAT_6.model_copy(update={"stickout_mm": 25.0})
    assert assembly_of(shorter, MACHINE).cutting_length_mm == 25.0


def test_the_shoe_counts_only_when_it_is_on_and_there() -> None:
    """The shoe hangs below the nose as the circle about it; off, or none fitted, it is not in the stack."""
    with_shoe = assembly_of(FLAT_6, MACHINE, shoe=True)
    assert with_shoe.steps[-1].kind == "shoe"
    assert (with_shoe.steps[-1].radius_mm, with_shoe.steps[-1].z_from_mm, with_shoe.steps[-1].z_to_mm) == (45, 40, 65)
    bare = MACHINE.model_copy(update={"shoe": None})
    assert assembly_of(FLAT_6, bare, shoe=True) == assembly_of(FLAT_6, bare)
    assert all(step.kind != "shoe" for step in assembly_of(FLAT_6, MACHINE).steps)


@given(st.floats(1, 60), st.floats(0, 60), st.booleans())
def test_the_stack_has_no_gap_from_tip_to_nose(flute_mm: float, more_mm: float, shoe: bool) -> None:
    """Cutter, shank, nut and nose follow on one another from the tip up, and all but the flutes are rigid."""
    cutter = FLAT_6.model_copy(update={"flute_length_mm": flute_mm, "stickout_mm": flute_mm + more_mm})
    assembly = assembly_of(cutter, MACHINE, shoe)
    stack = [step for step in assembly.steps if step.kind != "shoe"]
    assert stack[0].z_from_mm == 0
    for below, above in pairwise(stack):
        assert below.z_to_mm == above.z_from_mm
        assert below.z_from_mm < below.z_to_mm
    assert assembly.rigid_steps() == assembly.steps[1:]
    assert assembly.tip_below_nose_mm == pytest.approx(cutter.stickout_mm + MACHINE.nut_length_mm)
