"""Programs that leave the cutter's radius to the controller (G41, G42) are proven as they will run."""

from __future__ import annotations

from workpiece import LEVELS, MACHINE, Script, good_text, kinds, pocket, proven

KEEPS_BESIDE = MACHINE.model_copy(
    update={"controller": MACHINE.controller.model_copy(update={"radius_compensation": True})}
)


def beside(code: str, grown_mm: float = 0.0) -> str:
    """The block's outside as its own outline run clockwise, the cutter kept beside it by the controller."""
    script = pocket(Script())
    x, y = 25.0 + grown_mm, 15.0 + grown_mm
    for z in LEVELS:
        script.over(-30.0, -36.0).down(z)
        script.lines.append(f"{code} D1 G1 {script.at(-x, -25.0)}")
        script.along([(-x, y), (x, y), (x, -y), (-40.0, -y)])
        script.lines.append("G40")
        script.lines.append(f"G1 {script.at(-40.0, -36.0)}")
    return script.text()


def test_a_compensated_contour_makes_the_same_piece() -> None:
    assert proven(good_text()).passed
    verdict = proven(beside("G41"), machine=KEEPS_BESIDE)
    assert verdict.passed, [f.what for f in verdict.findings if f.harm == "stop"]


def test_a_contour_on_the_wrong_side_is_a_gouge() -> None:
    assert "gouge" in kinds(proven(beside("G42"), machine=KEEPS_BESIDE))


def test_a_contour_that_is_off_is_seen_by_as_much() -> None:
    (gouge,) = [
        f
        for f in proven(beside("G41", -0.3), machine=KEEPS_BESIDE).findings
        if f.kind == "gouge" and f.harm == "stop"
    ][:1]
    assert 0.29 < gouge.by_mm < 0.45
