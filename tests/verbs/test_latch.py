"""witnessmark latch: from a first file to a design in words, in JSON, and in plots."""

import json
import math
from pathlib import Path

import pytest
from lxml import etree

from witnessmark.cli.main import main
from witnessmark.job.box import BOX_FILE
from witnessmark.job.demonstration import box_job, demonstration_cutters, demonstration_machine
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job
from witnessmark.job.latch import LATCH_FILE, Place, demonstration_latch, latch_text, load_latch, save_latch
from witnessmark.job.models import PieceSpec, Season
from witnessmark.plan.store import load_plans
from witnessmark.shapes.read import read_solid
from witnessmark.verbs.box import box_from_sizes, new_box
from witnessmark.verbs.hidden import wood_of
from witnessmark.verbs.latch import design_latch, start_latch
from witnessmark.verbs.latch_off import UNPLANNED, FoundAgain, Off, found_again, season_mm
from witnessmark.verbs.latch_plots import PLOTS
from witnessmark.verbs.latch_words import latch_words
from witnessmark.verbs.workshop import open_workshop, read_box
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


def test_the_season_is_that_of_the_job() -> None:
    """By hand, cherry, 40 mm tangential: 0.00248 a percent (Wood Handbook table 13-5) over half the range; a job that
    states a wider year moves it more."""
    cherry = wood_of(demonstration_latch())
    usual = season_mm(None, cherry)
    low, high = Year(Climate(20.0, 0.35), Climate(20.0, 0.65), 8.0).range_pct
    assert usual == pytest.approx(40.0 * 0.00248 * (high - low) / 2)
    wide = box_job().model_copy(update={"season": Season(dry_humidity_pct=20.0, damp_humidity_pct=80.0)})
    assert season_mm(wide, cherry) > 1.5 * usual


def test_what_finding_the_pieces_again_adds_is_squared_up_with_the_way_of_the_holes() -> None:
    """Independent errors add as squares; before a plan a placement of the usual kind is reckoned with."""
    latch = demonstration_latch().model_copy(update={"place": Place()})
    before = Off(0.1, FoundAgain(0.0, 0.0, 0.0)).loose(latch)
    after = Off(0.1, FoundAgain(0.0, 0.04, 0.05)).loose(latch)
    assert Off(0.1, None).loose(latch) == Off(0.1, UNPLANNED).loose(latch)
    assert after.holes[0].aside_mm == pytest.approx(math.hypot(before.holes[0].aside_mm, 0.04))
    assert (before.holes[0].along_mm, after.holes[0].along_mm) == (0.0, 0.05)
    assert after.holes[0].up_mm == before.holes[0].up_mm


CHOSEN = """
[place]
stands_mm = 41.7
first_deg = 0

[chosen]
key_magnet = "disc 10x5"
rotor_magnet = "disc 6x3"
poles = 4
circle_mm = 8
web_mm = 5
rod = "rod 4"
low_mm = 12
rise_deg = 80
back = "disc 6x3"
recess_mm = 1.5
hole_mm = 4.5
hole_deep_mm = 5
"""


def box_with_latch(root: Path, settled: str = CHOSEN) -> None:
    """A box of our own 200 x 120 mm with a thick lid, and a latch in its middle; the bolts go to two dividers."""
    sizes = {
        "outline": {"rectangle": {"x_mm": 200.0, "y_mm": 120.0}},
        "inside_height_mm": 34.0,
        "lid_mm": 24.0,
        "wall_mm": 12.0,
        "dividers_x_mm": [-42.0, 42.0],
        "divider_mm": 16.0,
    }
    new_box(root, box_from_sizes(sizes), demonstration_machine(), demonstration_cutters(), "cherry, black")
    text = latch_text(demonstration_latch()).replace("over_mm = 8", "over_mm = 6")
    (root / LATCH_FILE).write_text(text + settled.replace("stands_mm = 41.7\n", ""), encoding="utf-8")


def test_a_settled_latch_is_let_into_a_box_and_its_parts_are_pieces(tmp_path: Path) -> None:
    """Where the lid stands the box file knows; lid and body are cut, rotor, case and key can be read as pieces."""
    root = tmp_path / "box"
    box_with_latch(root)
    plain = {part.name: part.solid.volume_mm3 for part in read_box(root / BOX_FILE).parts}
    workshop = open_workshop(root)
    assert workshop.hidden is not None
    assert workshop.solids["lid"].volume_mm3 < plain["lid"] - 10_000
    assert workshop.solids["body"].volume_mm3 < plain["body"] - 2_000
    before = (root / "job.toml").read_text(encoding="utf-8")
    job = load_job(root)
    piece = PieceSpec(name="rotor", shape=LATCH_FILE, part="rotor", blank=job.pieces[0].blank)
    solids = open_workshop(root, job.model_copy(update={"pieces": (*job.pieces, piece)})).solids
    assert solids["rotor"].bounds_mm[0][2] == pytest.approx(0.0)
    assert (root / "job.toml").read_text(encoding="utf-8") == before
    answer = design_latch(root)
    assert answer.placed is not None
    assert not answer.placed.meets
    assert answer.found is not None
    assert answer.found.looked_at == 0
    said = "\n".join(latch_words(answer))
    for words in ("settled on", "* bridge", "nothing meets"):
        assert words in said


def test_with_a_guide_for_its_holes_the_guide_is_a_piece_and_an_stl(tmp_path: Path) -> None:
    """The block that is printed is the one that is cut; the words say how it is used."""
    root = tmp_path / "box"
    box_with_latch(root, CHOSEN.replace("[place]", '[place]\nholes = "guide"'))
    answer = design_latch(root, plots=True)
    assert answer.placed is not None
    assert "no right-angle drive" in answer.placed.chosen[0].lacks
    printed = read_solid(root / "out" / "latch" / "guide.stl", "mm")
    job = load_job(root)
    piece = PieceSpec(name="guide", shape=LATCH_FILE, part="guide", blank=job.pieces[0].blank)
    workshop = open_workshop(root, job.model_copy(update={"pieces": (*job.pieces, piece)}))
    assert workshop.solids["guide"].volume_mm3 == pytest.approx(printed.needed().volume_mm3, rel=1e-4)
    assert workshop.hidden is not None
    assert any("hang the guide on the rim" in note for note in workshop.hidden.notes)


def test_each_bolt_may_have_a_hole_of_its_own_making(tmp_path: Path) -> None:
    """A guide for the first bolt, a bridge over the second: said for each, settled on anew, and kept in the file."""
    root = tmp_path / "box"
    box_with_latch(root, CHOSEN.replace("[place]", '[place]\nholes = ["guide", "bridge"]'))
    answer = design_latch(root)
    assert answer.placed is not None
    assert [way.by for way in answer.placed.chosen] == ["guide", "bridge"]
    assert [guide.bolts for guide in answer.placed.guides.values()] == [(0,)]
    said = "\n".join(latch_words(answer))
    assert said.index("Bolt 1:") < said.index("* guide") < said.index("Bolt 2:") < said.index("* bridge")
    save_latch(answer.latch.model_copy(update={"wood": "maple, sugar"}), root)
    kept = load_latch(root / LATCH_FILE).place
    assert kept is not None
    assert kept.holes == ("guide", "bridge")


@pytest.mark.parametrize("damaged", [b"piece = [", b"\x00\x00", b"\xff\xfe"])
def test_a_damaged_plan_is_refused_and_a_latch_is_judged_as_before_planning(tmp_path: Path, damaged: bytes) -> None:
    root = tmp_path / "box"
    box_with_latch(root)
    (root / "out").mkdir()
    (root / "out" / "plan.toml").write_bytes(damaged)
    job = load_job(root)
    with pytest.raises(Refusal, match="witnessmark plan"):
        load_plans(job, root / "out" / "plan.toml", None)
    assert found_again(root, job, Place(), 2) is None


def test_a_latch_without_its_lid_or_its_sizes_is_refused(tmp_path: Path) -> None:
    root = tmp_path / "box"
    box_with_latch(root, CHOSEN.replace("[place]", '[place]\nlid = "cover"'))
    with pytest.raises(Refusal, match=r"place\.lid"):
        open_workshop(root)
    job = load_job(root)
    piece = PieceSpec(name="rotor", shape=LATCH_FILE, part="rotor", blank=job.pieces[0].blank)
    (root / LATCH_FILE).write_text(latch_text(demonstration_latch()), encoding="utf-8")
    with pytest.raises(Refusal, match="settled on nothing yet"):
        open_workshop(root, job.model_copy(update={"pieces": (*job.pieces, piece)}))


def test_a_chosen_magnet_that_is_not_on_hand_is_refused(tmp_path: Path) -> None:
    path = tmp_path / LATCH_FILE
    path.write_text(latch_text(demonstration_latch()) + CHOSEN.replace('"disc 6x3"', '"disc 7x2"'), encoding="utf-8")
    with pytest.raises(Refusal, match="none of what is on hand"):
        load_latch(path)


def test_settling_keeps_the_comments_and_reads_back(tmp_path: Path) -> None:
    path = tmp_path / LATCH_FILE
    latch = demonstration_latch()
    path.write_text("# mine\n" + latch_text(latch), encoding="utf-8")
    chosen = load_latch_text(latch_text(latch) + CHOSEN, tmp_path / "other.toml").chosen
    save_latch(latch.model_copy(update={"chosen": chosen}), tmp_path)
    assert path.read_text(encoding="utf-8").startswith("# mine\n")
    assert load_latch(path).chosen == chosen


def load_latch_text(text: str, path: Path):
    path.write_text(text, encoding="utf-8")
    return load_latch(path)
