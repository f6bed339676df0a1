"""The verdict in words, as JSON, as a picture; and its fingerprint."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from PIL import Image
from workpiece import FLAT, MACHINE, SETTINGS, block_with_pocket, good_text, placement, proven

from witnessmark.program.fingerprint import stamped
from witnessmark.proof.picture import write_deviation_png
from witnessmark.proof.report import proof_record, summary_text, write_proof_json
from witnessmark.proof.slip import proof_fingerprint
from witnessmark.proof.verdict import ProgramText

DOCUMENT = Path(__file__).parents[2] / "docs" / "proof.md"


def test_the_json_holds_the_verdict_and_every_key_is_documented(tmp_path: Path) -> None:
    """The file reads back as written, and docs/proof.md names each of its keys."""
    verdict = proven(good_text().replace("M3", "M4"))
    write_proof_json([verdict], tmp_path / "proof.json")
    kept = json.loads((tmp_path / "proof.json").read_text())
    assert kept == json.loads(json.dumps(proof_record([verdict])))
    assert kept["passed"] is False
    assert kept["pieces"][0]["findings"][0]["kind"] == "spindle turns backwards"
    document = DOCUMENT.read_text()
    for key in _keys(kept):
        assert f"`{key}`" in document, key


def _keys(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value) | {key for child in value.values() for key in _keys(child)}
    return {key for child in value for key in _keys(child)} if isinstance(value, list) else set()


def test_every_kind_of_finding_is_documented() -> None:
    """docs/proof.md explains each kind that the judge can name."""
    from witnessmark.proof.charges import ORDER

    document = DOCUMENT.read_text()
    assert [kind for kind in ORDER if f"| {kind} |" not in document] == []


def test_the_summary_says_passed_or_why_not() -> None:
    """Words for the terminal: proven, or how many findings stop it and what to do."""
    assert "proven" in summary_text(proven(good_text())).splitlines()[0]
    text = summary_text(proven(good_text().replace("S18000 M3\n", "")))
    assert "NOT proven, 1 findings stop it" in text
    assert "start the spindle" in text


def test_the_picture_is_a_png_with_more_than_one_colour(tmp_path: Path) -> None:
    """The picture opens, is of a sensible size, and shows something."""
    write_deviation_png(proven(good_text()), tmp_path / "deviation.png")
    with Image.open(tmp_path / "deviation.png") as image:
        assert image.width > 800
        assert len(np.unique(np.asarray(image.convert("RGB")).reshape(-1, 3), axis=0)) > 50
    assert [path.name for path in tmp_path.iterdir()] == ["deviation.png"]


def _print_of(text: str, **change: object) -> str:
    parts = {
        "programs": [ProgramText("one.nc", "1", "flat 6", text)],
        "solid": block_with_pocket(),
        "machine": MACHINE,
        "cutters": [FLAT],
        "placements": {"1": placement()},
        "settings": SETTINGS,
        "poses_mm_rad": {},
    } | change
    return proof_fingerprint(**parts)  # type: ignore[arg-type]


def test_the_proofs_fingerprint_covers_what_the_verdict_rests_on() -> None:
    """It ignores the stamp in a program, and changes with text, machine, cutter, placement, pose and piece."""
    text = "(fingerprint: )\n" + good_text()
    base = _print_of(text)
    assert base == _print_of(stamped(text, "AAAA"))
    assert base == _print_of(text)
    others = [
        _print_of(text.replace("Z12", "Z12.1")),
        _print_of(text, machine=MACHINE.model_copy(update={"travel_x_mm": 201.0})),
        _print_of(text, cutters=[FLAT.model_copy(update={"stickout_mm": 36.0})]),
        _print_of(text, placements={"1": placement(up="-z")}),
        _print_of(text, poses_mm_rad={"1": (0.1, 0.0, 0.0)}),
        _print_of(text, settings=SETTINGS.model_copy(update={"gouge_tolerance_mm": 0.1})),
    ]
    assert len({base, *others}) == 7
