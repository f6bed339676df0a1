"""witnessmark latch: from a first file to a design in words, in JSON, and in plots."""

import json
from pathlib import Path

import manifold3d
import pytest
from lxml import etree

from witnessmark.cli.main import main
from witnessmark.job.demonstration import BOX_SHAPE, box_job
from witnessmark.job.errors import Refusal
from witnessmark.job.latch import LATCH_FILE, demonstration_latch, latch_text, load_latch
from witnessmark.job.models import Season
from witnessmark.job.rewrite import new_job_text
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.hidden import wood_of
from witnessmark.verbs.latch import season_mm, start_latch
from witnessmark.verbs.latch_plots import PLOTS
from witnessmark.wood.season import Climate, Year


def test_from_a_first_file_to_a_design_and_its_plots(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The started file is the demonstration's; the answer is told, drawn and given to scripts alike."""
    assert main(["latch", str(tmp_path), "--start"]) == 0
    assert load_latch(tmp_path / LATCH_FILE) == demonstration_latch()
    capsys.readouterr()
    assert main(["latch", str(tmp_path), "--plots", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["enough"]
    assert record["works_ratio"] >= 0.985
    assert set(record["fails_ratio"]) == set(record["margins"])
    assert len(record["matters"]) == 3
    for name in PLOTS:
        drawing = etree.fromstring((tmp_path / "out" / "latch" / f"{name}.svg").read_bytes())
        assert drawing.tag.endswith("svg")


def test_words_name_gates_polarity_and_cautions(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / LATCH_FILE).write_text(latch_text(demonstration_latch()), encoding="utf-8")
    assert main(["latch", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    for words in ("wrong way up", "flux index", "swallowed", "pacemakers", "locks the box for good", "of 100 work"):
        assert words in said


def test_a_second_start_a_missing_file_and_an_unknown_wood_are_refused(tmp_path: Path) -> None:
    start_latch(tmp_path)
    with pytest.raises(Refusal, match="is there already"):
        start_latch(tmp_path)
    with pytest.raises(Refusal, match="--start"):
        load_latch(tmp_path / "other.toml")
    with pytest.raises(Refusal, match='did you mean "cherry, black"'):
        wood_of(demonstration_latch().model_copy(update={"wood": "black cherry"}))


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('grade = "N45"', 'grade = "N99"', "grade"),
        ("bolts = 2", "bolts = 7", "bolts"),
        ('name = "disc 8x3"', 'name = "disc 6x3"', "called disc 6x3"),
        ("skin_mm = 3", "skin_mm = -3", "skin_mm"),
        ("skin_mm = 3", "skim_mm = 3", "skin_mm"),
    ],
)
def test_mistakes_in_the_file_are_named(tmp_path: Path, old: str, new: str, what: str) -> None:
    text = latch_text(demonstration_latch())
    assert old in text
    (tmp_path / LATCH_FILE).write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(Refusal, match=what):
        load_latch(tmp_path / LATCH_FILE)


@pytest.mark.parametrize(("kind", "words"), [("hold", "lifted at the edge"), ("slide", "in the hand")])
def test_lids_that_are_held_and_bolts_that_are_slid(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: str, words: str
) -> None:
    latch = demonstration_latch().model_copy(update={"kind": kind})
    (tmp_path / LATCH_FILE).write_text(latch_text(latch), encoding="utf-8")
    assert main(["latch", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert words in said
    assert "flux index" in said
    assert main(["latch", str(tmp_path), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["kind"] == kind
    assert record["enough"]


def test_the_season_is_that_of_the_job(tmp_path: Path) -> None:
    """By hand, cherry, 40 mm tangential: 0.00248 a percent (Wood Handbook table 13-5) over half the range; a job that
    states a wider year moves it more."""
    cherry = wood_of(demonstration_latch())
    usual = season_mm(tmp_path, cherry)
    low, high = Year(Climate(20.0, 0.35), Climate(20.0, 0.65), 8.0).range_pct
    assert usual == pytest.approx(40.0 * 0.00248 * (high - low) / 2)
    wide = box_job().model_copy(update={"season": Season(dry_humidity_pct=20.0, damp_humidity_pct=80.0)})
    write_stl(Solid(manifold3d.Manifold.cube((20, 20, 20))), tmp_path / BOX_SHAPE)
    (tmp_path / "job.toml").write_text(new_job_text(wide), encoding="utf-8")
    assert season_mm(tmp_path, cherry) > 1.5 * usual
