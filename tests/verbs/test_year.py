"""The year in a job: layers across the grain, lids, hardware let in; each found, named and told with its remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.job.box import BOX_FILE, box_text
from witnessmark.job.demonstration import keepsake_box, keepsake_job
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Job, LetIn, Season
from witnessmark.job.rewrite import new_job_text
from witnessmark.verbs.check import check
from witnessmark.verbs.made_from import made_from
from witnessmark.verbs.workshop import open_workshop
from witnessmark.verbs.year import year_notes

YEAR = Season(dry_c=20.0, dry_humidity_pct=30.0, damp_c=20.0, damp_humidity_pct=70.0, moisture_pct=8.0)


def folder_of(root: Path, job: Job, **sizes) -> Path:
    (root / BOX_FILE).write_text(box_text(keepsake_box().model_copy(update=sizes)), encoding="utf-8")
    (root / "job.toml").write_text(new_job_text(job), encoding="utf-8")
    return root


def body_of(job: Job, **blank) -> Job:
    """The job with another blank for its body."""
    body, lid = job.pieces
    return job.model_copy(
        update={"pieces": (body.model_copy(update={"blank": body.blank.model_copy(update=blank)}), lid)}
    )


def notes(root: Path, job: Job, **sizes) -> tuple[str, ...]:
    return year_notes(open_workshop(folder_of(root, job, **sizes)))


def test_without_a_season_nothing_is_said(tmp_path):
    assert notes(tmp_path, keepsake_job()) == ()


def test_a_floor_across_the_layers_above_is_named_with_its_layers(tmp_path):
    job = body_of(keepsake_job(), glue_lines_z_mm=(12.0, 29.0), layer_grains=("y", "x", "x"))
    said = [n for n in notes(tmp_path, job.model_copy(update={"season": YEAR})) if "glued" in n]
    assert len(said) == 2  # along x the one moves, along y the other
    assert all("body, layer 1 glued to layer 2" in n for n in said)
    assert all("turn the grain" in n for n in said)


def test_a_ring_of_long_grain_round_a_floor_is_named(tmp_path):
    job = body_of(keepsake_job(), glue_lines_z_mm=(12.0,), layer_grains=("x", "round"))
    said = [n for n in notes(tmp_path, job.model_copy(update={"season": YEAR})) if "glued" in n]
    assert len(said) == 1  # the floor moves across its grain alone
    assert said[0].startswith("along y: ")


def test_layers_of_one_grain_bear_the_year(tmp_path):
    job = body_of(keepsake_job(), glue_lines_z_mm=(12.0, 29.0), layer_grains=("x", "x", "x"))
    assert not [n for n in notes(tmp_path, job.model_copy(update={"season": YEAR})) if "glued" in n]


def test_the_lid_gap_that_is_told_is_enough_and_less_is_not(tmp_path):
    job = keepsake_job().model_copy(update={"season": YEAR})
    said = [n for n in notes(tmp_path, job, gap_mm=0.1) if "gap" in n]
    assert said
    assert all("along y" in n for n in said)  # along the grain it hardly moves
    told = max(float(n.split("gap_mm ")[1].split(" ")[0]) for n in said)
    assert 0.1 < told < 1.0
    assert not [n for n in notes(tmp_path, job, gap_mm=told) if "may close" in n]
    assert [n for n in notes(tmp_path, job, gap_mm=told - 0.02) if "may close" in n]


def test_a_lid_with_its_grain_turned_needs_more(tmp_path):
    job = keepsake_job().model_copy(update={"season": YEAR})
    body, lid = job.pieces
    turned = lid.model_copy(update={"blank": lid.blank.model_copy(update={"grain_axis": "y"})})
    said = notes(tmp_path, job.model_copy(update={"pieces": (body, turned)}), gap_mm=0.1)
    assert any("along x" in n and "may close" in n for n in said)


def test_hardware_is_squeezed_by_a_recess_that_closes_and_not_by_the_width_that_is_told(tmp_path):
    plate = LetIn(name="lock plate", piece="lid", along_mm=40.0, across_mm=80.0, gap_mm=0.05)
    job = keepsake_job().model_copy(update={"season": YEAR, "hardware": (plate,)})
    (said,) = [n for n in notes(tmp_path, job) if "lock plate" in n]
    assert "would squeeze it" in said
    wider = float(said.split("cut it ")[1].split(" ")[0])
    job = job.model_copy(update={"hardware": (plate.model_copy(update={"gap_mm": wider}),)})
    (said,) = [n for n in notes(tmp_path, job) if "lock plate" in n]
    assert "its clearance is 0.10 to" in said


def test_check_tells_it_and_a_season_makes_no_plan_old(tmp_path):
    root = folder_of(tmp_path, keepsake_job(), gap_mm=0.1)
    before = made_from(open_workshop(root))
    save_job(load_job(root).model_copy(update={"season": YEAR}), root)
    assert any("may close" in n for n in check(root).year)
    assert made_from(open_workshop(root)) == before


def test_hardware_in_no_piece_and_grains_of_too_many_layers_are_refused(tmp_path):
    root = folder_of(tmp_path, keepsake_job())
    text = (root / "job.toml").read_text(encoding="utf-8")
    row = '\n[[hardware]]\nname = "hinge"\npiece = "door"\nalong_mm = 30\nacross_mm = 10\n'
    (root / "job.toml").write_text(text + row, encoding="utf-8")
    with pytest.raises(Refusal, match="no piece"):
        load_job(root)
    lines = text.replace("layer_grains = []", 'layer_grains = ["x", "y"]', 1)
    (root / "job.toml").write_text(lines, encoding="utf-8")
    with pytest.raises(Refusal, match="layer_grains names 2 layers"):
        load_job(root)
