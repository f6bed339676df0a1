"""What a program uses that the job's controller does not take is a stop, with the line that uses it first."""

import pytest
from workpiece import MACHINE, good_text, proven

USES = {
    "arcs": "G1 X100 Y75 F600\nG2 X101 Y75 I0.5 J0",
    "radius_arcs": "G1 X100 Y75 F600\nG2 X101 Y75 R0.5",
    "canned_cycles": "G81 G99 X100 Y75 Z24 R25 F300\nG80",
    "radius_compensation": "G41 D1 G1 X100 Y60 F600\nG40",
    "probing": "M5\nG38.2 Z24 F100\nM3",
    "expressions": "#1 = 25\nG0 Z#1",
    "tool_change": "M5\nT1 M6\nM3",
    "comments": "(a word)",
}


def told(text: str, **takes: bool) -> list:
    controller = MACHINE.controller.model_copy(update=takes)
    verdict = proven(text, machine=MACHINE.model_copy(update={"controller": controller}))
    return [finding for finding in verdict.findings if finding.kind == "beyond the controller"]


@pytest.mark.parametrize("key", sorted(USES))
def test_each_thing_is_told_only_where_the_controller_lacks_it(key: str) -> None:
    lines = good_text().splitlines()
    text = "\n".join([*lines[:-2], USES[key], *lines[-2:]]) + "\n"
    everything = dict.fromkeys(USES, True)
    assert told(text, **everything) == []
    (finding,) = told(text, **{**everything, key: False})
    assert finding.harm == "stop"
    assert len(lines) - 1 <= finding.line <= len(lines)
    assert f"machine.controller.{key}" in finding.remedies[1]


def test_a_plain_program_asks_for_nothing() -> None:
    assert told(good_text(), **dict.fromkeys(USES, False)) == []
