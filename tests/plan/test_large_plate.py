"""Pieces several travels large: covered, in no fewer placements than their area needs, and the short cuts exact."""

from dataclasses import fields, replace
from pathlib import Path

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from witnessmark.field.dilate import lowered_by
from witnessmark.job.demonstration import demonstration_job
from witnessmark.job.models import Blank, PieceSpec
from witnessmark.plan import change, near, unreached
from witnessmark.plan.bound import MANY, fewest, greedy, least_by_windows, packed, signatures
from witnessmark.plan.candidates import MOST_SHIFTS, shift_steps
from witnessmark.plan.coverage import SAME_MM, SideView, best_tips, covered_by
from witnessmark.plan.evaluate import evaluate
from witnessmark.plan.search import lay_out
from witnessmark.plan.spindle import finishing_cutters, main_cutter, reachable
from witnessmark.plan.wood import plan_margin_mm, whole_blank
from witnessmark.shapes.solid import Solid
from witnessmark.shapes.write import write_stl
from witnessmark.verbs.look import LookSizes, job_for, look

Cube = manifold3d.Manifold.cube
SIZES = LookSizes(travel_mm=(300, 300, 90), cutter_mm=6, stickout_mm=45, nut_mm=(20, 20), nose_mm=65)


def plate(size_mm: float) -> Solid:
    """A plate 20 thick with a pocket 8 deep over a third of it."""
    return Solid(
        Cube((size_mm, size_mm, 20), True) - Cube((size_mm * 0.6, size_mm * 0.6, 16), True).translate((0, 0, 10))
    )


def test_a_plate_of_several_travels_is_covered(tmp_path: Path) -> None:
    """look on 560 x 560 mm and 230 x 230 of travel: it fits, in no fewer placements than its area needs; each spot of
    the piece lies in the region of a placement whose window holds that region, and no bound is claimed below it."""
    answer = look(write_stl(plate(560), tmp_path / "plate.stl"), replace(SIZES, travel_mm=(230, 230, 90)))
    assert answer.fits
    least = int(np.ceil(566**2 / 230**2))
    assert answer.plan.bound == len(answer.plan.placements) >= least
    x, y = np.meshgrid(np.arange(-279.0, 280, 2), np.arange(-279.0, 280, 2))
    done = {"-z": np.zeros(x.shape, bool), "+z": np.zeros(x.shape, bool)}
    for step in answer.plan.placements:
        place = step.placement
        x0, y0, x1, y1 = place.region_mm
        wx0, wy0, wx1, wy1 = place.window_mm(230, 230, 0.0)
        inside = (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
        assert ((x >= wx0) & (x <= wx1) & (y >= wy0) & (y <= wy1))[inside].all()
        done[place.up] |= inside
    assert any(seen.all() for seen in done.values())
    assert any("clear between the uprights" in line for line in answer.assumed)
    assert any("cells of" in line for line in answer.assumed)


@pytest.mark.parametrize("up", ["-z", "+z"])
def test_a_part_of_a_blank_evaluates_as_the_whole(up: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every field and figure is the same, whether the whole blank or only the placement's part is evaluated."""
    monkeypatch.setattr(near, "WORTH_RATIO", 1.1)
    job = demonstration_job()
    machine = job.machine.model_copy(update={"travel_x_mm": 150.0, "travel_y_mm": 150.0})
    job = job.model_copy(update={"machine": machine})
    piece = Solid(Cube((330, 300, 20), True) - Cube((200, 170, 16), True).translate((0, 0, 10)))
    spec = PieceSpec(name="plate", shape="p.stl", blank=Blank(size_x_mm=390, size_y_mm=360, size_z_mm=24))
    layout = lay_out(job, spec, piece)
    side = next((side for side in layout.sides if side.up == up), layout.sides[0])
    turned = side.placements[0] if side.up == up else None
    place = turned or replace(side.placements[0], shift_mm=(40.0, 110.0))
    main = reachable(main_cutter(job), job.machine, job.settings)
    finishing = [reachable(cutter, job.machine, job.settings) for cutter in finishing_cutters(job)]
    columns = whole_blank(layout.box, 1.0, plan_margin_mm(job))
    whole = evaluate(job, place, piece, columns, main, finishing)
    part = near.evaluate_near(job, place, piece, columns, main, finishing)
    assert near.patch_of(job, place, whole.grid, [main, *finishing]).share_ratio < 0.6
    assert whole.removed_mm3 > 0
    for field in fields(whole):
        a, b = getattr(whole, field.name), getattr(part, field.name)
        if isinstance(a, np.ndarray):
            assert np.array_equal(a, b), field.name
        elif isinstance(a, float):
            assert a == pytest.approx(b, rel=1e-9), field.name
        else:
            assert a == b, field.name


def seen_whole(view: SideView, spindle, window_mm) -> np.ndarray:
    """The same question asked over the whole grid."""
    half = view.grid.pitch_mm / 2
    x, y = view.grid.x_mm[None, :], view.grid.y_mm[:, None]
    within = (x >= window_mm[0] - half) & (x <= window_mm[2] + half) & (y >= window_mm[1] - half)
    within = within & (y <= window_mm[3] + half)
    floor = lowered_by(np.where(within, best_tips(view), np.float32(np.inf)), view.grid, spindle.profile)
    return floor[view.elements] <= view.wanted_floor[view.elements] + SAME_MM


def test_a_window_is_asked_about_its_own_part_alone() -> None:
    """What a window covers is the same as over the whole grid, also at its edges and half off the blank."""
    piece = plate(300)
    job, _ = job_for(Path("plate.stl"), SIZES, piece)
    view = lay_out(job, job.pieces[0], piece).sides[0].view
    spindle = reachable(main_cutter(job), job.machine, job.settings)
    for window in ((-60.3, -70.1, 99.7, 41.2), (100.0, 100.0, 400.0, 400.0), (500.0, 0.0, 600.0, 10.0), (0, 0, 3, 3)):
        assert np.array_equal(covered_by(view, spindle, window), seen_whole(view, spindle, window))


@given(hnp.arrays(np.bool_, st.tuples(st.integers(1, 9), st.integers(1, 20))))
@settings(max_examples=60, deadline=None)
def test_the_quick_choice_is_never_more_than_the_fewest(covers: np.ndarray) -> None:
    """Rows packed apart are a bound on the fewest; a quick choice covers everything with just as many."""
    rows, _ = signatures(covers[:, covers.any(axis=0)])
    count = fewest(covers).count
    assert len(packed(rows)) <= count
    quick = greedy(rows, np.zeros(covers.shape[0]))
    assert quick is None or (len(quick) == count and rows[:, quick].any(axis=1).all())


def test_windows_on_a_filled_rectangle_are_chosen_quickly() -> None:
    """Shifts of 25 over a square three windows large: the quick choice is found, three windows each way."""
    at = np.arange(-450.0, 451, 10)
    shifts = np.arange(-350.0, 351, 25)
    one = np.abs(at[None, :] - shifts[:, None]) <= 150
    covers = (one[:, None, :, None] & one[None, :, None, :]).reshape(len(shifts) ** 2, -1)
    rows, _ = signatures(covers)
    assert len(covers) > MANY
    assert fewest(covers).count == 9
    assert len(greedy(rows, np.zeros(len(covers))) or []) == 9


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 60)), min_size=1, max_size=25), st.floats(15, 70))
@settings(max_examples=40, deadline=None)
def test_the_bound_by_windows_never_exceeds_the_fewest(points: list[tuple[float, float]], width_mm: float) -> None:
    """Points that no window holds together need a placement each; more are never claimed."""
    at = np.array(points)
    starts = [(x, y) for x in np.arange(-20.0, 90, 10) for y in np.arange(-20.0, 50, 10)]
    windows = np.array([(x, y, x + width_mm, y + width_mm) for x, y in starts])
    covers = ((windows[:, None, :2] <= at) & (windows[:, None, 2:] >= at)).all(axis=2)
    assert least_by_windows(at, windows) <= fewest(covers).count


def test_the_search_for_changes_says_when_it_stops(monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing left to look at it stops, keeps what it found and says so; and likewise on the real floors."""
    piece = plate(330)
    job, _ = job_for(Path("plate.stl"), SIZES, piece)
    spec = job.pieces[0]
    layout = lay_out(job, spec, piece)
    monkeypatch.setattr(change, "MOST_CANDIDATES", -1)
    found = change.search_changes(job, spec, piece, layout.meeting, lambda new: new.bound < layout.bound)
    assert found.stopped
    assert found.tried == 0
    monkeypatch.setattr(unreached, "Budget", lambda: unreached_budget(0))
    notes = unreached.change_notes(job, spec, piece, layout.meeting)
    assert any("was stopped" in note for note in notes)


def unreached_budget(cells: int) -> unreached.Budget:
    return BUDGET(cells)


BUDGET = unreached.Budget


def test_a_turn_that_the_bound_rules_out_is_not_laid_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Changes that leave windows and blank as they are cannot save a placement where the bound is met already."""
    piece = plate(330)
    job, _ = job_for(Path("plate.stl"), SIZES, piece)
    spec = job.pieces[0]
    layout = lay_out(job, spec, piece)
    laid = []

    def counted(job, spec, piece, meeting):
        laid.append(job.machine.travel_x_mm * job.machine.travel_y_mm)
        return lay_out(job, spec, piece, meeting)

    monkeypatch.setattr(change, "lay_out", counted)

    def better(new):
        return not new.unreached and new.bound < layout.bound

    quick = change.search_changes(job, spec, piece, layout.meeting, better, at_most=layout.bound - 1)
    fast, laid = len(laid), []
    every = change.search_changes(job, spec, piece, layout.meeting, better)
    assert quick.changes == every.changes
    assert quick.changes
    assert fast < len(laid)


@given(st.floats(10, 3000), st.floats(50, 400), st.floats(0.01, 200), st.floats(0, 2000))
def test_shifts_are_holes_and_never_too_many(
    length_mm: float, travel_mm: float, pitch_mm: float, room_mm: float
) -> None:
    """Every shift is a whole number of holes, within the room, mirrored about the middle; never many."""
    steps = shift_steps(length_mm, travel_mm, pitch_mm, room_mm)
    assert len(steps) <= 2 * MOST_SHIFTS + 1
    assert steps == [-step for step in reversed(steps)]
    assert max(steps) <= room_mm + 1e-6
    assert all(abs(step / pitch_mm - round(step / pitch_mm)) < 1e-6 for step in steps)
