"""The demonstration's job and the two examples': machine, cutters, blanks, all of our own invention.

Feeds are ours for cherry: chip loads of 0.03 to 0.07 mm a tooth (common practice, no source).
"""

from __future__ import annotations

from .boards import Board, Boards, Defect
from .box import BOX_FILE, Box, BoxOutline, Pair, Scoop
from .latch import Latch, Place, demonstration_latch
from .models import Blank, Cutter, Job, Machine, MovableBoard, PieceSpec, Settings, Shoe, Wish

BODY_SHAPE, LID_SHAPE = "tea-chest-body.stl", "tea-chest-lid.stl"
DISH_SHAPE, BOX_SHAPE = "dish.stl", "box.stl"
CHEST_LID_STANDS_MM = 54.4  # its lip in the body's rebate: 58 - 4 + 0.4


def demonstration_machine() -> Machine:
    """A router of 300 x 400 x 90 mm travel, open at both ends of X, with a movable board."""
    return Machine(
        name="three-hundred router",
        travel_x_mm=300.0,
        travel_y_mm=400.0,
        travel_z_mm=90.0,
        nose_above_bed_mm=155.0,
        gantry_above_bed_mm=95.0,
        clear_width_mm=500.0,
        overhang_axis="x",
        moves="gantry",
        board=MovableBoard(thickness_mm=18.0, size_x_mm=520.0, size_y_mm=440.0, hole_pitch_mm=25.0),
        nose_diameter_mm=65.0,
        nut_diameter_mm=20.0,
        nut_length_mm=20.0,
        shoe=Shoe(diameter_mm=90.0, below_nose_mm=25.0),
        shoe_on=False,
    )


def demonstration_cutters() -> tuple[Cutter, ...]:
    """Flat 6 and ball 6 far out of the collet, and a flat 3 for what they leave in the corners."""
    flat = Cutter(
        name="flat 6",
        kind="flat",
        diameter_mm=6.0,
        flute_length_mm=32.0,
        stickout_mm=45.0,
        shank_diameter_mm=6.0,
        feed_mm_min=2400.0,
        stepdown_mm=3.0,
        stepover_mm=2.5,
    )
    return (
        flat,
        flat.model_copy(update={"name": "ball 6", "kind": "ball", "stepdown_mm": 2.0, "stepover_mm": 1.0}),
        Cutter(
            name="flat 3",
            kind="flat",
            diameter_mm=3.0,
            flute_length_mm=12.0,
            stickout_mm=30.0,
            shank_diameter_mm=6.0,
            feed_mm_min=1000.0,
            entry_feed_mm_min=300.0,
            stepdown_mm=1.5,
            stepover_mm=1.2,
        ),
    )


def demonstration_drill() -> Cutter:
    """For the poke-holes of the chest's latch."""
    return Cutter(
        name="drill 4",
        kind="drill",
        diameter_mm=4.0,
        flute_length_mm=40.0,
        stickout_mm=45.0,
        shank_diameter_mm=4.0,
        included_angle_deg=118.0,
        feed_mm_min=400.0,
        entry_feed_mm_min=400.0,
        spindle_rpm=9000.0,
        stepdown_mm=4.0,
        stepover_mm=4.0,
    )


def demonstration_job() -> Job:
    """The tea chest: body out of three layers of 20.7 mm, lid out of one board; foot and lip faces planed true."""
    body = Blank(
        size_x_mm=470.0, size_y_mm=370.0, size_z_mm=62.0, below_mm=0.0, grain_axis="x", glue_lines_z_mm=(20.7, 41.3)
    )
    lid = Blank(size_x_mm=470.0, size_y_mm=370.0, size_z_mm=28.0, below_mm=0.0, grain_axis="x")
    return Job(
        name="ginkgo tea chest",
        machine=demonstration_machine(),
        cutters=(*demonstration_cutters(), demonstration_drill()),
        pieces=(
            PieceSpec(name="body", shape=BODY_SHAPE, blank=body, shape_unit="mm"),
            PieceSpec(name="lid", shape=LID_SHAPE, blank=lid, shape_unit="mm"),
        ),
        settings=Settings(),
        wish=Wish(first_up="-z"),
    )


def chest_latch() -> Latch:
    """The tea chest's latch in its wish and its place: two bolts along y; 6 mm over them, as deep as the cutter for
    the case's slots reaches."""
    plain = demonstration_latch()
    place = Place(first_deg=90.0, stands_mm=CHEST_LID_STANDS_MM)
    return plain.model_copy(update={"wish": plain.wish.model_copy(update={"over_mm": 6.0}), "place": place})


def demonstration_boards() -> Boards:
    """A pile of cherry for the chest, bought rough: two thicknesses, knots and a split marked. Prices of our own."""
    inch, thick = 25.0, 34.0

    def board(
        name: str, length_mm: float, width_mm: float, thickness_mm: float, price: float, *defects: Defect
    ) -> Board:
        return Board(
            name=name, length_mm=length_mm, width_mm=width_mm, thickness_mm=thickness_mm, price=price, defects=defects
        )

    knot = Defect(from_end_mm=640.0, to_end_mm=700.0, from_edge_mm=30.0, to_edge_mm=85.0)
    split = Defect(from_end_mm=2240.0, to_end_mm=2400.0, from_edge_mm=60.0, to_edge_mm=80.0)
    return Boards(
        boards=(
            board("cherry 1", 2400.0, 195.0, inch, 41.0, split),
            board("cherry 2", 2100.0, 170.0, inch, 30.0, knot),
            board("cherry 3", 2100.0, 145.0, inch, 25.0),
            board("cherry 4", 1800.0, 210.0, inch, 33.0),
            board("cherry 5", 1500.0, 130.0, inch, 16.0),
            board("thick 1", 1500.0, 205.0, thick, 40.0),
            board("thick 2", 1200.0, 150.0, thick, 23.0),
        )
    )


def keepsake_box() -> Box:
    """A small rectangular box with a rebated lid, two compartments, and a hollow at each end for a fingertip."""
    return Box(
        outline=BoxOutline(rectangle=Pair(x_mm=180.0, y_mm=120.0), corner_radius_mm=12.0),
        inside_height_mm=32.0,
        wall_mm=9.0,
        floor_mm=7.0,
        lid_mm=9.0,
        lip_mm=4.5,
        rebate_mm=4.0,
        dividers_x_mm=(20.0,),
        scoops=(Scoop(at_deg=0.0, depth_mm=2.5), Scoop(at_deg=180.0, depth_mm=2.5)),
        dome_mm=3.0,
    )


def keepsake_job() -> Job:
    """The keepsake box: body stacked from rings of walnut on a solid floor, lid out of one board."""
    wood = "walnut, black"
    body = Blank(size_x_mm=240.0, size_y_mm=180.0, size_z_mm=46.0, species=wood)
    lid = Blank(size_x_mm=240.0, size_y_mm=180.0, size_z_mm=19.0, species=wood)
    return Job(
        name="keepsake box",
        machine=demonstration_machine(),
        cutters=demonstration_cutters(),
        pieces=(
            PieceSpec(name="body", shape=BOX_FILE, part="body", blank=body),
            PieceSpec(name="lid", shape=BOX_FILE, part="lid", blank=lid),
        ),
        wish=Wish(first_up="-z"),
    )


def keepsake_boards() -> Boards:
    """Two walnut boards; the smaller one has a knot."""
    knot = Defect(from_end_mm=300.0, to_end_mm=350.0, from_edge_mm=0.0, to_edge_mm=40.0)
    walnut = Board(
        name="walnut 1", species="walnut, black", length_mm=1500.0, width_mm=150.0, thickness_mm=26.0, price=38.0
    )
    smaller = {"name": "walnut 2", "length_mm": 900.0, "width_mm": 135.0, "price": 18.0, "defects": (knot,)}
    return Boards(boards=(walnut, walnut.model_copy(update=smaller)))


def dish_job() -> Job:
    """The shallow dish: cutters of 25 mm stick-out, a short nut; the spindle nose goes below the blank's top.

    The nose comes lower than on the demonstration's machine, or the short cutters would not reach the board. The foot
    face is planed true: turned over, the dish stands on it.
    """
    machine = demonstration_machine().model_copy(
        update={
            "name": "low-nosed router",
            "nose_above_bed_mm": 146.0,
            "nose_diameter_mm": 58.0,
            "nut_length_mm": 13.0,
            "shoe": None,
        }
    )
    short = {"flute_length_mm": 22.0, "stickout_mm": 25.0}
    cutters = tuple(cutter.model_copy(update=short) for cutter in demonstration_cutters()[:2])
    blank = Blank(size_x_mm=420.0, size_y_mm=320.0, size_z_mm=44.0, below_mm=0.0, grain_axis="x")
    piece = PieceSpec(name="dish", shape=DISH_SHAPE, blank=blank, shape_unit="mm")
    return Job(name="shallow dish", machine=machine, cutters=cutters, pieces=(piece,), wish=Wish(first_up="-z"))


def box_job() -> Job:
    """The straight-walled box: deeper than one side reaches, on a machine tall enough to stand above its blank."""
    machine = demonstration_machine().model_copy(
        update={"name": "tall router", "nose_above_bed_mm": 170.0, "gantry_above_bed_mm": 110.0}
    )
    blank = Blank(
        size_x_mm=400.0,
        size_y_mm=180.0,
        size_z_mm=74.0,
        below_mm=0.0,
        grain_axis="x",
        glue_lines_z_mm=(18.5, 37.0, 55.5),
    )
    piece = PieceSpec(name="box", shape=BOX_SHAPE, blank=blank, shape_unit="mm")
    return Job(
        name="straight box",
        machine=machine,
        cutters=demonstration_cutters()[:1],
        pieces=(piece,),
        wish=Wish(first_up="-z"),
    )
