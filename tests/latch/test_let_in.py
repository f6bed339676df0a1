"""A latch let into a lid and a body: its room, what is cut, the holes that face inward, the order, blind holes."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold

from witnessmark.job.catalog import species
from witnessmark.job.demonstration import demonstration_cutters, demonstration_drill
from witnessmark.job.latch import Chosen, DrillTools, Latch, Place, Spreads, SpringOnHand, demonstration_latch
from witnessmark.latch.assembly import through_the_turn
from witnessmark.latch.blind import blind_holes
from witnessmark.latch.bolts import SpringReturn
from witnessmark.latch.chances import Astray, Loose
from witnessmark.latch.chosen import chosen_of, design_of, takes_of
from witnessmark.latch.design import CROSS_PIN_MM, INSIDE_MM, Design
from witnessmark.latch.inward import around, bore_error_mm, goes_in_mm, lean_deg, leaning_hole_mm, ways
from witnessmark.latch.let_in import LetIn
from witnessmark.latch.order import DOWN, UP, Body, order_of
from witnessmark.latch.search import lowers
from witnessmark.latch.solids import bore, coils
from witnessmark.latch.together import hardware, heaps
from witnessmark.path.slots import slots_in
from witnessmark.shapes.solid import Solid
from witnessmark.sheet.latch_pages import poke_words

CHERRY = species()["cherry, black"]
CHOSEN = Chosen(
    key_magnet="disc 10x5",
    rotor_magnet="disc 6x3",
    poles=4,
    circle_mm=8.0,
    web_mm=5.0,
    rod="rod 4",
    low_mm=12.0,
    rise_deg=80.0,
    back="disc 6x3",
    recess_mm=1.5,
    hole_mm=4.5,
    hole_deep_mm=5.0,
)
LATCH = demonstration_latch().model_copy(update={"chosen": CHOSEN})
DESIGN = design_of(LATCH, CHERRY)
STANDS_MM = 60.0
LOOSE = Loose(0.03, 0.1, False, (Astray(),) * 2)


def lid_and_body():
    """A plain lid 24 mm thick on a box of 60 mm with a hollow between two walls along x."""
    lid = Manifold.cube((200.0, 120.0, 24.0)).translate((-100.0, -60.0, 0.0))
    body = Manifold.cube((200.0, 120.0, STANDS_MM)).translate((-100.0, -60.0, 0.0))
    wide_mm = 2 * DESIGN.mouth_mm - 6.0
    return lid, body - Manifold.cube((wide_mm, 90.0, 50.0)).translate((-wide_mm / 2, -45.0, 12.0))


def let_in(**place) -> LetIn:
    return LetIn.of(DESIGN, Place(**place), STANDS_MM, *lid_and_body())


def test_what_was_chosen_reads_back_as_the_same_design():
    assert chosen_of(LATCH, DESIGN) == CHOSEN
    assert dict(takes_of(LATCH)) == {"disc 10x5": 4, "disc 6x3": 6, "rod 4": 2}


def test_the_room_leaves_the_skin_and_the_wood_that_is_wished():
    """Pocket to 3 mm under the top; the bolts' holes 8 mm under the body's rim."""
    made = let_in()
    assert made.room.ceiling_mm == pytest.approx(24.0 - DESIGN.skin_mm)
    assert made.room.below_mm == pytest.approx(DESIGN.over_mm + DESIGN.hole_mm / 2)
    pocket = made.lid.volume() - made.cut_lid.volume()
    assert pocket == pytest.approx(math.pi / 4 * DESIGN.across_mm**2 * 21.0, rel=1e-3)


def test_nothing_of_the_opened_body_faces_inward():
    """What a bridge takes is open above: every upright line meets the body's wood from some height down only."""
    made = let_in()
    taken = made.body - made.opened_body
    low = taken.bounding_box()[2]
    for z_mm in (low + 1.0, STANDS_MM - made.room.below_mm, STANDS_MM - 3.0):
        under = taken.slice(z_mm)
        assert (under - taken.slice(STANDS_MM - 0.01)).area() < 1e-6


@pytest.mark.parametrize("holes", ["bridge", "guide", ("guide", "bridge")])
def test_closed_it_turns_with_nothing_in_the_way(holes):
    made = let_in(holes=holes)
    near = through_the_turn(DESIGN, made.parts, made.from_lid(made.cut_lid), made.from_body(made.closed_body), 15.0)
    assert [one for one in near if one.meets] == []
    gaps = {(one.one, one.other): one.gap_mm for one in near}
    for bolt in ("bolt 1", "bolt 2"):
        assert gaps["body", bolt] == pytest.approx((DESIGN.hole_mm - DESIGN.rod.diameter_mm) / 2, abs=0.02)


@pytest.mark.parametrize("holes", ["bridge", "guide"])
def test_holes_that_are_meant_lower_than_their_bolts_lie_so(holes):
    """By a tenth: the wood over them stays as wished, the bolts come nearer to the rim and to their holes' top."""
    design = replace(DESIGN, lower_mm=0.1)
    made = LetIn.of(design, Place(holes=holes), STANDS_MM, *lid_and_body())
    assert made.room.below_mm == pytest.approx(design.over_mm + design.hole_mm / 2 - 0.1)
    assert made.room.holes_mm(design) == pytest.approx(-design.over_mm - design.hole_mm / 2)
    near = through_the_turn(design, made.parts, made.from_lid(made.cut_lid), made.from_body(made.closed_body), 15.0)
    gaps = {(one.one, one.other): one.gap_mm for one in near if not one.meets}
    assert gaps["body", "bolt 2"] == pytest.approx((design.hole_mm - design.rod.diameter_mm) / 2 - 0.1, abs=0.02)


def test_bridges_fill_their_recesses_flush_with_the_wall():
    """Opened body and blocks are the body less the opening and the slots, with no wood twice."""
    made = let_in()
    blocks = [made.in_body(block) for block in made.bridges.values()]
    assert len(blocks) == DESIGN.bolts
    assert all((block ^ made.opened_body).volume() < 1e-6 for block in blocks)
    assert all((block - made.body).volume() < 1e-6 for block in blocks)
    assert all(block.volume() > 500.0 for block in blocks)


def test_no_lid_no_wall_and_no_room_are_told():
    with pytest.raises(ValueError, match="no lid over the rotor"):
        let_in(x_mm=500.0)
    lid, body = lid_and_body()
    frame = body - Manifold.cube((190.0, 110.0, 200.0), True)
    with pytest.raises(ValueError, match="no wood of the body where bolt 1"):
        LetIn.of(DESIGN, Place(), STANDS_MM, lid, frame)
    thin = lid.trim_by_plane((0.0, 0.0, -1.0), -4.0)
    with pytest.raises(ValueError, match="mm more"):
        LetIn.of(DESIGN, Place(), STANDS_MM, thin, body)


SIZES = {"inside_mm": 4.6, "outside_mm": 5.4, "rest_mm": 12.0, "pressed_mm": 5.0}


def sprung(**sizes) -> Design:
    """The design with a spring round each bolt."""
    spring = SpringOnHand(name="spring", rate_n_mm=0.05, rest_n=0.15, count=2, **(sizes or SIZES))
    chosen = CHOSEN.model_copy(update={"back": "spring", "recess_mm": 0.0})
    return design_of(LATCH.model_copy(update={"springs": (spring,), "chosen": chosen}), CHERRY)


def sprung_in(design: Design) -> LetIn:
    lid = Manifold.cube((200.0, 120.0, 24.0)).translate((-100.0, -60.0, 0.0))
    body = Manifold.cube((200.0, 120.0, STANDS_MM)).translate((-100.0, -60.0, 0.0))
    wide_mm = 2 * design.mouth_mm - 6.0
    hollow = Manifold.cube((wide_mm, 90.0, 50.0)).translate((-wide_mm / 2, -45.0, 12.0))
    return LetIn.of(design, Place(), STANDS_MM, lid, body - hollow)


def test_a_spring_without_its_sizes_has_no_seat_and_is_not_searched_for():
    with pytest.raises(ValueError, match="no seat"):
        LetIn.of(replace(DESIGN, back=SpringReturn(0.05, 0.15)), Place(), STANDS_MM, *lid_and_body())
    placed = demonstration_latch().model_copy(update={"place": Place()})
    assert not [lower for lower in lowers(placed) if isinstance(lower.back, SpringReturn)]
    assert [lower for lower in lowers(demonstration_latch()) if isinstance(lower.back, SpringReturn)]
    spring = demonstration_latch().springs[0].model_copy(update=SIZES)
    sized = placed.model_copy(update={"springs": (spring,)})
    found = [lower for lower in lowers(sized) if isinstance(lower.back, SpringReturn)]
    assert {lower.rod.diameter_mm for lower in found} == {4.0}  # the other rod does not go through


def test_a_spring_lies_round_its_bolt_in_a_chamber_of_the_case():
    """The guide grows by the chamber. Through the whole turn nothing meets, the pin across the bolt neither; thrown,
    the pin leaves the spring more than its pressed length; it all goes together, and can be got ready."""
    design = sprung()
    chamber = design.chamber
    assert design.bolt_mm > DESIGN.bolt_mm
    placed = sprung_in(design)
    parts = placed.parts
    lid, body = placed.from_lid(placed.cut_lid), placed.from_body(placed.closed_body)
    found = through_the_turn(design, parts, lid, body, 3.0)
    assert [near for near in found if near.meets] == []
    (spring, other) = coils(design, placed.room)
    for solid in (parts.case, parts.keepers[0], parts.bolts[0]):
        assert (spring ^ solid).volume() < 0.01
    pin_mm = chamber[1] - SIZES["rest_mm"] - CROSS_PIN_MM / 2
    at = Manifold.cube((CROSS_PIN_MM, 20.0, CROSS_PIN_MM), True).translate((pin_mm, 0.0, -placed.room.below_mm))
    assert (parts.bolts[0] ^ at).bounding_box()[4] == pytest.approx(5.4 / 2, abs=0.01)
    left_mm = chamber[1] - (pin_mm + design.cam.throw_mm + CROSS_PIN_MM / 2)
    assert left_mm == pytest.approx(SIZES["rest_mm"] - design.cam.throw_mm)
    assert left_mm >= SIZES["pressed_mm"]
    heap = next(heap for heap in heaps(placed) if heap.name == "lid")
    assert not heap.order.stuck
    names = [step.name for step in heap.order.steps]
    assert names.index("sprung bolt 1") < names.index("keeper 1")
    items = {item.name: item.size for item in hardware(placed)}
    assert items["springs round the bolts"].startswith("4.6 inside, 5.4 outside, 12 mm")
    assert not [trouble for hole in blind_holes(placed) for trouble in hole.troubles]
    pivot = next(hole for hole in blind_holes(placed) if hole.name == "the rotor on its pivot")
    low, high = parts.rotor.bounding_box()[2::3]
    assert pivot.deep_mm + pivot.behind_mm + design.washer.in_mm == pytest.approx(high - low)
    seat = next(hole for hole in blind_holes(placed) if hole.name == "the rotor's magnets")
    assert seat.deep_mm + seat.behind_mm == pytest.approx(high - low - design.cam_high_mm)
    end_mm = design.mouth_mm - INSIDE_MM - design.bolt_mm
    told = f"{pin_mm - end_mm:.1f} mm from a bolt's inner end"
    assert items["pins of steel wire across the bolts, in tight holes"].endswith(told)
    assert other.volume() == pytest.approx(spring.volume())


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ({"inside_mm": 4.1}, "does not go through"),
        ({"pressed_mm": 8.0}, "cannot be pressed by 5 mm"),
        ({"outside_mm": 13.0}, "through the case's floor"),
    ],
)
def test_a_spring_that_does_not_go_is_refused(sizes, words):
    with pytest.raises(ValueError, match=words):
        sprung_in(sprung(**{**SIZES, **sizes}))


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ({"inside_mm": 4.6}, "all four"),
        ({**SIZES, "inside_mm": 6.0}, "inside_mm is not less"),
        ({**SIZES, "pressed_mm": 12.0}, "pressed_mm is not less"),
    ],
)
def test_sizes_of_a_spring_go_together(sizes, words):
    with pytest.raises(ValueError, match=words):
        SpringOnHand(name="spring", rate_n_mm=0.05, rest_n=0.15, count=2, **sizes)


def test_what_is_round_a_hole_is_seen():
    """The hollow is cut wider by the opening: from wall to wall twice the mouth and the open room."""
    spot = around(let_in(), 0)
    assert spot.across_mm == pytest.approx(2 * (DESIGN.mouth_mm + DESIGN.open_mm), abs=0.1)
    assert spot.under_mm == pytest.approx(DESIGN.over_mm + DESIGN.hole_mm / 2, abs=0.01)
    assert spot.beside_mm == pytest.approx(60.0, abs=0.1)


def test_ways_that_cannot_be_say_why_and_truer_ways_work_more_often():
    tools = DrillTools(angle_head_mm=30.0, bit_mm=120.0)
    found = {way.by: way for way in ways(let_in(), tools, demonstration_cutters(), Spreads(), LOOSE)[0]}
    assert "in the way" in found["stand"].lacks
    assert "T-slot cutter" in found["undercut"].lacks
    assert all(found[by].able for by in ("guide", "right angle", "bridge"))
    assert found["bridge"].works_ratio >= found["guide"].works_ratio > found["right angle"].works_ratio
    nothing = {way.by: way for way in ways(let_in(), DrillTools(), (), Spreads(), LOOSE)[0]}
    assert "no right-angle drive" in nothing["guide"].lacks


SLOT_16 = demonstration_cutters()[0].model_copy(
    update={
        "name": "slot 16",
        "kind": "t_slot",
        "diameter_mm": 16.0,
        "flute_length_mm": 4.0,
        "neck_diameter_mm": 5.0,
    }
)


def test_each_hole_is_made_in_the_way_named_for_it():
    """A block over the second slot only; the first hole is drilled, the second milled, and both are there."""
    made = let_in(holes=("guide", "bridge"))
    assert list(made.bridges) == [1]
    bridged = [item.count for item in hardware(made) if "bridge" in item.name]
    assert bridged == [1]
    assert list(next(heap for heap in heaps(made) if heap.name == "body").parts) == ["body", "bridge 2"]
    before = made.from_body(made.opened_body)
    left = [(hole ^ before).volume() / hole.volume() for hole in made.parts.holes]
    assert left[0] > 0.8  # but for what begins before the wall
    assert left[1] < 0.1  # in the corners of a slot that is round at its end
    for hole in made.parts.holes:
        assert (hole ^ made.from_body(made.closed_body)).volume() < 0.1 * hole.volume()


def test_each_hole_has_ways_of_its_own():
    """The second bolt's wall is 18 mm wide: beside it the cutter's slot would break out. A hole drilled by eye tells
    on the latch whichever bolt it is for, by as much (3 standard errors of 60 000)."""
    lid, body = lid_and_body()
    narrow = Manifold.cube((100.0, 120.0, STANDS_MM)).translate((-100.0, 9.0, 0.0))
    body -= narrow + narrow.mirror((0.0, 1.0, 0.0))
    made = LetIn.of(DESIGN, Place(holes=("undercut", "bridge")), STANDS_MM, lid, body)
    tools = DrillTools(angle_head_mm=20.0)
    first, second = ({way.by: way for way in of} for of in ways(made, tools, (SLOT_16,), Spreads(), LOOSE))
    assert first["undercut"].able
    assert "break out beside" in second["undercut"].lacks
    by_eye = first["right angle"].works_ratio
    assert by_eye < first["undercut"].works_ratio - 0.2
    assert second["right angle"].works_ratio == pytest.approx(by_eye, abs=3 * math.sqrt(0.5 / 60_000))


@pytest.mark.parametrize("holes", [("bridge",), ("bridge", "guide", "guide")])
def test_as_many_ways_as_bolts_or_one_for_all(holes):
    with pytest.raises(ValueError, match="for 2 bolts: one, or so many"):
        Latch.model_validate({**LATCH.model_dump(), "place": {"holes": holes}})
    assert Place(holes="guide").holes_of(3) == ("guide",) * 3


def test_a_t_slot_cutter_that_fits_undercuts():
    cutter = SLOT_16
    found = {way.by: way for way in ways(let_in(), DrillTools(), (cutter,), Spreads(), LOOSE)[0]}
    assert found["undercut"].able
    thick = cutter.model_copy(update={"flute_length_mm": 6.0})
    assert not {w.by: w for w in ways(let_in(), DrillTools(), (thick,), Spreads(), LOOSE)[0]}["undercut"].able


@pytest.mark.parametrize("diameter_mm", [16.0, 20.0])
def test_an_undercut_hole_is_a_slot_of_its_disc_that_a_path_finds(diameter_mm):
    """As high as the hole, as deep, as wide as the disc; the opened body has it, the bolts turn in it, and seen from
    above it is a slot that the disc gets into from the opening (a wide disc takes of the arm's sides)."""
    disc = SLOT_16.model_copy(update={"diameter_mm": diameter_mm})
    made = LetIn.of(DESIGN, Place(holes=("undercut", "bridge")), STANDS_MM, *lid_and_body(), (disc,))
    assert made.undercut == (0,)
    assert list(made.bridges) == [1]
    plain = let_in(holes=("guide", "bridge")).opened_body
    taken = made.from_body(plain - made.opened_body)
    wall = DESIGN.mouth_mm + DESIGN.open_mm
    assert taken.bounding_box()[3] == pytest.approx(wall + DESIGN.hole_deep_mm, abs=0.01)
    low, high = taken.bounding_box()[2::3]
    assert high - low == pytest.approx(DESIGN.hole_mm)
    lid, body = made.from_lid(made.cut_lid), made.from_body(made.closed_body)
    assert [near for near in through_the_turn(DESIGN, made.parts, lid, body, 15.0) if near.meets] == []
    beyond = [slot for slot in slots_in(Solid(made.opened_body)) if slot.hidden.bounds[2] > wall + 1.0]
    (slot,) = beyond
    assert slot.ceiling_mm - slot.floor_mm == pytest.approx(DESIGN.hole_mm, abs=1e-3)


def test_without_its_cutter_an_undercut_hole_is_round_and_the_makers():
    thick = SLOT_16.model_copy(update={"flute_length_mm": 6.0})
    stubby = SLOT_16.model_copy(update={"neck_diameter_mm": 6.0})  # its neck would rub on the wall
    for cutter in (thick, stubby):
        made = LetIn.of(DESIGN, Place(holes="undercut"), STANDS_MM, *lid_and_body(), (cutter,))
        assert made.undercut == ()
        hole = made.in_body(made.parts.holes[0])
        assert (hole ^ made.closed_body).volume() < 1e-6


def test_a_straight_drill_leans_as_worked_out_by_hand():
    """Cavity 100 mm, hole 10 mm under the rim, chuck 20 mm: 11.43 degrees, by a scan of the same condition."""
    by_scan = next(a / 1000 for a in range(90_000) if _clears(100.0, 10.0, 20.0, a / 1000))
    assert lean_deg(100.0, 10.0, 20.0) == pytest.approx(by_scan, abs=2e-3)
    assert lean_deg(100.0, 10.0, 20.0) == pytest.approx(11.43, abs=0.01)


def _clears(across_mm: float, under_mm: float, chuck_mm: float, angle_deg: float) -> bool:
    angle = math.radians(angle_deg)
    return across_mm * math.sin(angle) - under_mm * math.cos(angle) >= chuck_mm / 2


def test_a_level_rod_in_a_leaning_hole_as_by_a_scan():
    """Hole 5.6, rod 5, 5 degrees: 7.1025 mm, by moving a rod into the hole in thin steps."""
    assert goes_in_mm(5.6, 5.0, 5.0) == pytest.approx(7.1025, abs=5e-4)


@given(st.floats(3.0, 8.0), st.floats(1.0, 8.0), st.floats(1.0, 40.0))
def test_the_hole_for_a_lean_is_the_other_way_round(rod_mm, deep_mm, leans_deg):
    assert goes_in_mm(leaning_hole_mm(rod_mm, deep_mm, leans_deg), rod_mm, leans_deg) == pytest.approx(deep_mm)


def test_a_longer_bore_guides_truer():
    assert bore_error_mm(0.1, 25.0, 5.0) < bore_error_mm(0.1, 12.5, 5.0)
    assert bore_error_mm(0.1, 10.0, 5.0) == pytest.approx(0.1)


def test_the_order_is_one_in_which_every_part_goes_in():
    """Bolts under the rotor's edge slide in from the side after it; keepers after them; the lid comes last."""
    made = {heap.name: heap for heap in heaps(let_in())}
    assert set(made) == {"rotor", "lid", "body", "key"}
    assert all(not heap.order.stuck for heap in made.values())
    steps = [step.name for step in made["lid"].order.steps]
    assert steps[0] == "case"
    assert steps[-1] == "lid"
    assert steps.index("pivot pin") < steps.index("rotor") < steps.index("bolt 1")
    ways_of = {step.name: step.way for step in made["lid"].order.steps}
    assert abs(ways_of["bolt 1"][2]) < 1e-9
    assert {step.way for step in made["rotor"].order.steps if step.name.startswith("return")} == {UP}


def poked(drills_mm, **place) -> LetIn:
    """``drills_mm``: diameter and flutes of each."""
    plain = demonstration_drill()
    drills = tuple(
        plain.model_copy(update={"diameter_mm": wide, "flute_length_mm": long}) for wide, long in drills_mm
    )
    return LetIn.of(DESIGN, Place(**place), STANDS_MM, *lid_and_body(), drills)


def test_a_drill_that_fits_makes_the_poke_holes_of_bridged_bolts():
    """The widest no wider than the bolts' holes that gets past the middle from both ends; a pin goes up to the bolt,
    out at the foot, and nothing of the body is undercut by it."""
    deep_mm = let_in().poke_deep_mm - DESIGN.hole_mm / 2
    reaches = deep_mm / 2 + 4.0
    made = poked(((2.0, 90.0), (3.0, 90.0), (4.0, reaches), (4.4, deep_mm / 2), (5.0, 90.0)))
    assert made.poked == (0, 1)
    assert [made.poke_wide_mm(k) for k in made.poked] == [4.0, 4.0]
    more = let_in().opened_body - made.opened_body
    assert more.volume() == pytest.approx(2 * math.pi / 4 * 4.0**2 * deep_mm, rel=2e-3)
    for pin in (made.in_body(hole) for hole in made.pokes):
        assert (pin ^ made.opened_body).volume() < 1e-6
    low_mm, high_mm = more.bounding_box()[2::3]
    assert low_mm == pytest.approx(0.0, abs=1e-6)
    assert high_mm == pytest.approx(deep_mm, abs=1e-6)
    words = poke_words(made)
    assert "Each bolt's poke-hole, 4 mm wide, is drilled by the programs" in words
    assert "drill a poke-hole" not in words


def test_poke_holes_that_no_program_drills_are_told_with_their_sizes():
    """No drill of the job fits; or a bolt's hole is no bridge, so that its poke-hole ends blind."""
    for made in (poked(((3.0, 5.0), (6.0, 90.0))), poked(((4.0, 90.0),), holes="guide")):
        assert made.poked == ()
        assert "drill a poke-hole 4.5 mm wide straight through the round end of each bolt's hole" in poke_words(made)
    mixed = poked(((4.0, 90.0),), holes=("guide", "bridge"))
    assert mixed.poked == (1,)
    assert "Bolt 2's poke-hole, 4 mm wide" in poke_words(mixed)
    assert "round end of bolt 1's hole" in poke_words(mixed)


@pytest.mark.parametrize(("circle_mm", "wide_mm"), [(8.0, 8.0), (6.5, 5.0), (6.0, 4.0)])
def test_the_washer_lies_in_a_seat_where_the_magnets_leave_room(circle_mm, wide_mm):
    """0.5 mm deep: the washer, 1 mm thick, stands as proud as a loose one is thick, and nearly fills its seat."""
    chosen = CHOSEN.model_copy(update={"circle_mm": circle_mm, "key_magnet": "disc 6x3"})
    placed = LetIn.of(
        design_of(LATCH.model_copy(update={"chosen": chosen}), CHERRY), Place(), STANDS_MM, *lid_and_body()
    )
    rotor, top_mm = placed.parts.rotor, placed.parts.rotor.bounding_box()[5]
    middle = bore(wide_mm / 2 + 0.6, top_mm - 1.0, top_mm)  # short of the magnets' seats
    assert (middle - rotor).volume() == pytest.approx(math.pi * (wide_mm / 2 + 0.25) ** 2 * 0.5, rel=0.002)
    parts = next(heap for heap in heaps(placed) if heap.name == "lid").parts
    washer = parts["washer in its seat"].solid
    assert (washer ^ rotor).volume() < 1e-6
    assert washer.bounding_box()[5] == pytest.approx(placed.room.ceiling_mm, abs=0.06)
    sizes = {item.name: item.size for item in hardware(placed)}
    assert sizes["washer of smooth plastic"] == f"{wide_mm:g} across, 1 mm thick"
    holes = {hole.name: hole for hole in blind_holes(placed)}
    high_mm, pivot = top_mm - rotor.bounding_box()[2], holes["the rotor on its pivot"]
    assert holes["the rotor's washer"].behind_mm == pytest.approx(high_mm - 0.5 - pivot.deep_mm)
    assert pivot.behind_mm == holes["the rotor's washer"].behind_mm
    assert not [words for hole in holes.values() for words in hole.troubles]


def test_on_a_rotor_too_narrow_for_a_seat_the_washer_is_thin_and_lies_on_top():
    chosen = CHOSEN.model_copy(update={"circle_mm": 5.0, "key_magnet": "disc 6x3"})
    placed = LetIn.of(
        design_of(LATCH.model_copy(update={"chosen": chosen}), CHERRY), Place(), STANDS_MM, *lid_and_body()
    )
    washer = next(heap for heap in heaps(placed) if heap.name == "lid").parts["washer"].solid
    assert washer.bounding_box()[2] == pytest.approx(placed.parts.rotor.bounding_box()[5])
    assert "8 across, 0.5 mm thick" in [item.size for item in hardware(placed)]
    assert "the rotor's washer" not in [hole.name for hole in blind_holes(placed)]


def test_a_shut_in_part_is_named():
    shell = Manifold.cube((20.0, 20.0, 20.0), True) - Manifold.cube((10.0, 10.0, 10.0), True)
    found = order_of(
        {"shell": Body(shell, (UP, DOWN)), "core": Body(Manifold.cube((8.0, 8.0, 8.0), True), (UP,), True)}
    )
    assert found.steps == ()
    assert set(found.stuck) == {"shell", "core"}


def test_blind_holes_take_what_goes_in():
    made = let_in()
    assert all(one.troubles == () for one in blind_holes(made))
    seat = next(one for one in blind_holes(made) if one.name == "the rotor's magnets")
    ring = math.pi / 4 * ((6.1**2 - 6.0**2) * 3.0 + 6.1**2 * 0.1)
    assert seat.glue_mm3 == pytest.approx(ring, rel=1e-6)
    assert "does not go into" in replace(seat, part_mm=6.2).troubles[0]
    assert "stands out" in replace(seat, deep_mm=2.9).troubles[0]
    assert "would break" in replace(seat, behind_mm=0.5).troubles[0]


def test_hardware_lists_every_magnet_and_the_bolts_length():
    rows = {item.name: item for item in hardware(let_in())}
    assert rows["magnets for the key"].count == 4
    assert rows["magnets for the cam"].count == 2
    assert f"4 x {DESIGN.bolt_mm:.1f} mm" in rows["bolts of steel rod"].size
