"""Everything that turns with the cutter, as one stack of cylinders: used alike by reach and by proof."""

from __future__ import annotations

from dataclasses import dataclass

from .models import Cutter, Machine


@dataclass(frozen=True)
class Step:
    """A cylinder about the spindle axis; heights above the tip. Kind: cut, neck, shank, nut, nose or shoe."""

    radius_mm: float
    z_from_mm: float
    z_to_mm: float
    kind: str
    outline_mm: tuple[tuple[float, float], ...] = ()  # where it is not round, and does not turn: about the axis


@dataclass(frozen=True)
class Assembly:
    """Cutter, shank, collet nut, spindle nose and (if fitted) dust shoe, from the tip upward."""

    cutter: Cutter
    steps: tuple[Step, ...]

    @property
    def cutting_length_mm(self) -> float:
        """Height above the tip up to which the flutes cut."""
        return self.steps[0].z_to_mm

    @property
    def tip_below_nose_mm(self) -> float:
        """From the underside of the spindle nose down to the tip."""
        return next(step.z_from_mm for step in self.steps if step.kind == "nose")

    def rigid_steps(self) -> tuple[Step, ...]:
        """The steps that must never touch wood: all but the flutes."""
        return tuple(step for step in self.steps if step.kind != "cut")


def assembly_of(cutter: Cutter, machine: Machine, shoe: bool = False) -> Assembly:
    """Stack the cutter in its collet on the machine's spindle.

    ``shoe`` states whether the dust shoe is on; the radius of one that is not round is that of the circle about it.
    """
    nut_at_mm = cutter.stickout_mm
    nose_at_mm = nut_at_mm + machine.nut_length_mm
    steps = [Step(cutter.diameter_mm / 2, 0.0, min(cutter.flute_length_mm, nut_at_mm), "cut")]
    shank_from_mm = cutter.flute_length_mm
    if cutter.neck_length_mm > 0:
        shank_from_mm = min(cutter.flute_length_mm + cutter.neck_length_mm, nut_at_mm)
        steps.append(Step(cutter.neck_diameter_mm / 2, cutter.flute_length_mm, shank_from_mm, "neck"))
    if shank_from_mm < nut_at_mm:
        steps.append(Step(cutter.shank_diameter_mm / 2, shank_from_mm, nut_at_mm, "shank"))
    steps.append(Step(machine.nut_diameter_mm / 2, nut_at_mm, nose_at_mm, "nut"))
    steps.append(Step(machine.nose_diameter_mm / 2, nose_at_mm, nose_at_mm + machine.nose_length_mm, "nose"))
    if shoe and machine.shoe is not None:
        shoe_at_mm = nose_at_mm - machine.shoe.below_nose_mm
        steps.append(Step(machine.shoe.diameter_mm / 2, shoe_at_mm, nose_at_mm, "shoe", machine.shoe.outline_mm))
    return Assembly(cutter, tuple(steps))
