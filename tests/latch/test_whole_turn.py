"""The assembled latch, through its whole turn, as exact solids."""

import math

import manifold3d
import pytest

from witnessmark.job.catalog import species
from witnessmark.latch.assembly import through_the_turn
from witnessmark.latch.bolts import MagnetReturn, SpringReturn
from witnessmark.latch.cam import Dwell
from witnessmark.latch.design import PLAY_MM, RUNNING_MM, Design
from witnessmark.latch.magnets import Disc, alternating
from witnessmark.latch.rods import Rod
from witnessmark.latch.solids import Room, parts_of, thrown_mm

ROOM = Room(18.0, 12.0)


def design(bolts: int = 2, back=None) -> Design:
    ring = alternating(Disc(8.0, 3.0, 1.35), 12.0, 4 if bolts != 3 else 6)
    cam = Dwell(10.0, 5.0, 2.5, min(math.radians(80.0), math.pi / bolts - 0.18), bolts)
    return Design(
        key=ring,
        rotor=ring,
        skin_mm=3.0,
        web_mm=5.0,
        cam=cam,
        rod=Rod(5.0, 23.0),
        back=back or SpringReturn(0.05, 0.15),
        bolts=bolts,
        hole_mm=5.5,
        hole_deep_mm=5.0,
        over_mm=8.0,
        open_mm=1.0,
        holds_n=60.0,
        wood=species()["cherry, black"],
    )


def lid_and_body(parts) -> tuple[manifold3d.Manifold, manifold3d.Manifold]:
    """Wood above and below the lid's lower face, cut for the latch."""
    block = manifold3d.Manifold.cube((140.0, 140.0, 21.0)).translate((-70.0, -70.0, 0.0))
    body = manifold3d.Manifold.cube((140.0, 140.0, 40.0)).translate((-70.0, -70.0, -40.4)) - parts.opening
    for hole in parts.holes:
        body -= hole
    return block - parts.pocket, body


@pytest.mark.parametrize(("bolts", "step_deg"), [(1, 6.0), (2, 1.0), (3, 4.0)])
def test_nothing_meets_through_the_whole_turn(bolts, step_deg):
    """Rotor and cam in the case and the lid, bolts in their slots and holes, at every degree (of two bolts)."""
    latch = design(bolts)
    parts = parts_of(latch, ROOM)
    lid, body = lid_and_body(parts)
    found = through_the_turn(latch, parts, lid, body, step_deg)
    assert [near for near in found if near.meets] == []
    gaps = {(near.one, near.other): near.gap_mm for near in found}
    assert gaps["rotor", "lid"] == pytest.approx(RUNNING_MM, abs=0.02)
    assert gaps["rotor", "bolt 1"] < 0.02  # the bolt rests on its cam
    assert gaps["case", "bolt 1"] == pytest.approx(PLAY_MM / 2, abs=0.01)
    assert gaps["body", "case"] == pytest.approx(latch.open_mm, abs=0.03)
    assert gaps["body", "bolt 1"] > 0.2


def test_thrown_bolts_stand_in_their_holes_and_drawn_in_ones_do_not():
    """Out by the throw less what is inside and open; a body without holes is then in the way."""
    latch = design()
    parts = parts_of(latch, ROOM)
    assert thrown_mm(latch, 0.0) == pytest.approx(0.0)
    assert thrown_mm(latch, latch.turn_deg) == pytest.approx(latch.cam.throw_mm)
    low, high = parts.bolts[0].translate((latch.cam.throw_mm, 0.0, 0.0)).bounding_box()[0::3][:2]
    assert high - latch.mouth_mm - latch.open_mm == pytest.approx(latch.out_mm, abs=0.01)
    assert high - low == pytest.approx(latch.bolt_mm, abs=0.01)
    block = manifold3d.Manifold.cube((140.0, 140.0, 40.0)).translate((-70.0, -70.0, -40.4)) - parts.opening
    meets = {(near.one, near.other): near for near in through_the_turn(latch, parts, None, block, 10.0) if near.meets}
    assert {("body", "bolt 1"), ("body", "bolt 2")} <= set(meets)
    assert meets["body", "bolt 1"].at_deg > 20.0


def test_a_bolt_cut_too_long_is_found():
    latch = design()
    parts = parts_of(latch, ROOM)
    longer = parts.bolts[0].translate((0.4, 0.0, 0.0)) + parts.bolts[0]
    spoiled = type(parts)(**{**vars(parts), "bolts": (longer, *parts.bolts[1:])})
    lid, body = lid_and_body(parts)
    deep = type(latch)(**{**vars(latch), "hole_deep_mm": latch.out_mm - 0.1})
    shallow = lid_and_body(parts_of(deep, ROOM))[1]
    assert not any(near.meets for near in through_the_turn(latch, parts, lid, body, 15.0))
    found = [near for near in through_the_turn(latch, spoiled, lid, shallow, 15.0) if near.meets]
    assert ("body", "bolt 1") in {(near.one, near.other) for near in found}


def test_return_magnets_have_their_seats_in_the_cams_low_flanks():
    """Two seats of 6 x 3 mm, 1.5 mm under the surface: the rotor is lighter by them and the way to them."""
    plain, drilled = design(), design(back=MagnetReturn(Disc(6.0, 3.0, 1.3), 1.5))
    without = parts_of(plain, ROOM).rotor
    seats = parts_of(drilled, Room(18.0, 12.0)).rotor
    assert seats.genus() == without.genus()  # blind
    assert seats.volume() != pytest.approx(without.volume(), abs=100.0)
    assert not any(near.meets for near in through_the_turn(drilled, parts_of(drilled, ROOM), step_deg=15.0))


def test_a_room_too_low_is_refused():
    with pytest.raises(ValueError, match=r"needs 1\.0 mm more"):
        parts_of(design(), Room(design().high_mm - 3.5 - 5.0, 4.0))
