"""A cup taller than the machine lifts: as a block it is refused, in pinned layers it is planned and proven."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely

from witnessmark.job.demonstration import demonstration_cutters, demonstration_machine
from witnessmark.job.errors import Refusal
from witnessmark.job.files import load_job, save_job
from witnessmark.job.models import Blank, Job, PieceSpec, Settings, Stage
from witnessmark.job.rewrite import new_job_text
from witnessmark.plan.candidates import blank_box
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.upright import upright
from witnessmark.shapes.write import write_stl
from witnessmark.sheet.pages import stacking
from witnessmark.verbs.flow import open_bench, tasks
from witnessmark.verbs.layers import layers, table_words, ways_record, whole_job
from witnessmark.verbs.make import plan, program
from witnessmark.verbs.prove import prove
from witnessmark.verbs.workshop import open_workshop

HIGH_MM, FLOOR_MM = 54.0, 9.0


def cup() -> Solid:
    outside = shapely.box(0, 0, 110, 80).buffer(-12).buffer(12, quad_segs=24)
    inside = outside.buffer(-13).buffer(-6).buffer(6, quad_segs=24)
    hollow = upright(inside, HIGH_MM).manifold.translate((0.0, 0.0, FLOOR_MM))
    return Solid(upright(outside, HIGH_MM).manifold - hollow)


def low_job() -> Job:
    """A machine with so little Z that its cutters are not lifted over the block."""
    machine = demonstration_machine().model_copy(update={"nose_above_bed_mm": 118.0, "travel_z_mm": 60.0})
    blank = Blank(size_x_mm=150.0, size_y_mm=120.0, size_z_mm=HIGH_MM, glue_lines_z_mm=(27.0,))
    return Job(
        name="cup",
        machine=machine,
        cutters=demonstration_cutters(),
        pieces=(
            PieceSpec(
                name="cup",
                shape="cup.stl",
                shape_unit="mm",
                blank=blank,
                stages=(Stage(after=0, kind="rest", words="Let it lie.", hours=24.0),),
            ),
        ),
        settings=Settings(plan_pitch_mm=1.0, proof_pitch_mm=0.5),
    )


@pytest.fixture
def folder(tmp_path) -> Path:
    write_stl(cup(), tmp_path / "cup.stl")
    (tmp_path / "job.toml").write_text(new_job_text(low_job()), encoding="utf-8")
    return tmp_path


def test_the_table_tells_the_block_cannot_be_set_up_and_layers_can(folder):
    found = layers(folder, most=3)
    block, two, three = found.ways["cup"]
    assert "cannot be lifted" in block.trouble
    assert block.placements == 0
    for way in (two, three):
        assert way.trouble == ""
        assert way.placements == way.count  # each layer shows all of itself to one side
        assert way.pins.startswith("3 of")
        assert way.reach_mm < 32.0
        assert len(way.lines_mm) == way.count - 1
    assert two.lines_mm[0] >= FLOOR_MM
    assert three.seen_mm > two.seen_mm > 0
    assert three.wood_mm3 > two.wood_mm3 > block.wood_mm3
    words = "\n".join(table_words(found))
    assert "not everything can be cut" in words
    assert "least work: 2 layers" in words
    assert [row["layers"] for row in ways_record(found)["pieces"]["cup"]] == [1, 2, 3]


def test_in_two_layers_it_is_proven_and_can_be_one_block_again(folder):
    before = load_job(folder)
    layers(folder, use=2)
    job = load_job(folder)
    lower, upper = job.pieces
    assert (lower.name, upper.name) == ("cup layer 1", "cup layer 2")
    assert lower.layer is not None
    assert upper.layer is not None
    assert lower.layer.to_mm == upper.layer.from_mm
    assert lower.blank.size_z_mm + upper.blank.size_z_mm == pytest.approx(HIGH_MM)
    assert len(lower.stages) == 1
    assert upper.stages == ()
    # holes of one pin lie over each other and meet at the line between
    assert [pin[:2] for pin in lower.layer.pins_mm] == [pin[:2] for pin in upper.layer.pins_mm]
    assert all(pin[3] == lower.layer.to_mm for pin in lower.layer.pins_mm)
    assert all(pin[2] == upper.layer.from_mm for pin in upper.layer.pins_mm)
    plans = plan(folder)
    assert [len(made.placements) for made in plans] == [1, 1]
    program(folder)
    answer = prove(folder)
    for name, verdict in answer.verdicts.items():
        stops = [(f.kind, f.what) for f in verdict.findings if f.harm == "stop"]
        assert verdict.passed, (name, stops)
    assert stacking(plans[0], plans) == ("", ())
    of, words = stacking(plans[1], plans)
    assert of == "cup"
    long_mm = upper.layer.pins_mm[0][3] - lower.layer.pins_mm[0][2] - 1.0  # room for glue
    assert f"Cut pins {upper.layer.pin_mm:.1f} mm thick: 3 of {long_mm:.1f} mm." in words
    listed = tasks(open_bench(folder), [])
    assert [task.what for task in listed if task.kind == "stage"][-2:] == ["finish", "stack"]
    assert listed[-1].title == "cup: glue the layers"
    layers(folder, use=1)
    again = load_job(folder)
    (whole,) = again.pieces
    assert whole.name == "cup"
    assert whole.layer is None
    assert whole.blank.size_z_mm == pytest.approx(before.pieces[0].blank.size_z_mm)
    assert whole.stages == before.pieces[0].stages


def test_a_job_in_layers_is_compared_as_the_whole_that_it_is(folder):
    layers(folder, use=3)
    found = layers(folder, most=2)
    assert list(found.ways) == ["cup"]
    assert [way.count for way in found.ways["cup"]] == [1, 2]
    whole = whole_job(load_job(folder))
    solid = open_workshop(folder, whole).solids["cup"]
    assert solid.volume_mm3 == pytest.approx(cup().volume_mm3, rel=1e-4)


@pytest.mark.parametrize(
    ("more", "words"),
    [({"most": 9}, "not between"), ({"use": 0}, "not between"), ({"piece": "lid"}, "no piece of the job")],
)
def test_mistakes_are_refused_with_the_job_untouched(folder, more, words):
    text = (folder / "job.toml").read_text(encoding="utf-8")
    with pytest.raises(Refusal, match=words):
        layers(folder, **more)
    assert (folder / "job.toml").read_text(encoding="utf-8") == text


def test_layers_of_a_blank_with_grains_and_a_corner_of_its_own_lie_where_they_belong(folder):
    job = load_job(folder)
    blank = job.pieces[0].blank.model_copy(
        update={"layer_grains": ("x", "y"), "size_z_mm": HIGH_MM + 5.0, "corner_mm": (-20.0, -20.0, -2.0)}
    )
    save_job(job.model_copy(update={"pieces": (job.pieces[0].model_copy(update={"blank": blank}),)}), folder)
    layers(folder, use=2)
    workshop = open_workshop(folder)
    tops = []
    for spec in workshop.job.pieces:
        assert spec.blank.layer_grains == ()
        solid = workshop.solids[spec.name]
        box = blank_box(spec.blank, *solid.bounds_mm)
        assert (box.lower_mm <= solid.bounds_mm[0] + 1e-6).all()
        assert (box.upper_mm >= solid.bounds_mm[1] - 1e-6).all()
        tops.append((float(box.lower_mm[2]), float(box.upper_mm[2])))
    assert tops[0][0] == pytest.approx(-2.0)
    assert tops[0][1] == pytest.approx(tops[1][0])
    assert tops[1][1] == pytest.approx(HIGH_MM + 3.0)


def test_walls_too_thin_for_any_pin_are_told(folder):
    thin = shapely.box(0, 0, 110, 80).buffer(-12).buffer(12)
    hollow = upright(thin.buffer(-3), HIGH_MM).manifold.translate((0.0, 0.0, FLOOR_MM))
    write_stl(Solid(upright(thin, HIGH_MM).manifold - hollow), folder / "cup.stl")
    with pytest.raises(Refusal, match="no room for pins"):
        layers(folder, use=3)


def test_a_layer_that_is_not_in_the_piece_is_refused_with_its_key(folder):
    layers(folder, use=2)
    job = folder / "job.toml"
    text = job.read_text(encoding="utf-8")
    upper = load_job(folder).pieces[1].layer
    assert upper is not None
    job.write_text(text.replace(f"to_mm = {upper.to_mm:g}\n", "to_mm = 999\n"), encoding="utf-8")
    assert open_workshop(folder).solids["cup layer 2"].volume_mm3 > 0  # no more than there is
    job.write_text(text.replace(f"from_mm = {upper.from_mm:g}\n", "from_mm = 998\n", 1), encoding="utf-8")
    with pytest.raises(Refusal):
        open_workshop(folder)
