"""What each size of a job is, and how to measure it at the machine: one line a key."""

from __future__ import annotations

MEASURE: dict[str, str] = {
    # job
    "name": "what it is called on the bench sheet",
    # machine: travels and heights
    "machine.name": "what the machine is called on the bench sheet",
    "machine.travel_x_mm": "X travel: jog to both ends of X, take the one readout from the other",
    "machine.travel_y_mm": "Y travel: jog to both ends of Y, take the one readout from the other",
    "machine.travel_z_mm": "Z travel: jog to both ends of Z, take the one readout from the other",
    "machine.nose_above_bed_mm": "Z at its top: from the fixed spoilboard up to the underside of the spindle nose",
    "machine.gantry_above_bed_mm": "from the fixed spoilboard up to the lowest part of the gantry",
    "machine.clear_width_mm": "between the uprights, midway between which the middle of the travel is taken to lie",
    "machine.overhang_axis": "the axis along which work may stick out of the machine: x or y",
    "machine.moves": "what moves along the bed: the gantry, or the table",
    "machine.nose_diameter_mm": "across the spindle nose (its housing) at its widest within 80 mm of the nut",
    "machine.nose_length_mm": "height of the housing above the nut that keeps that width",
    "machine.nut_diameter_mm": "across the corners of the collet nut",
    "machine.nut_length_mm": "from the nut's lower face up to the spindle nose",
    "machine.shoe_on": "whether the dust shoe is on while cutting",
    "machine.spindle_min_rpm": "slowest speed of the spindle, from its plate",
    "machine.spindle_max_rpm": "fastest speed of the spindle, from its plate",
    "machine.spindle_power_w": "power of the spindle in watts, from its plate",
    "machine.rapid_x_mm_min": "fastest move of X, from the controller's settings",
    "machine.rapid_y_mm_min": "fastest move of Y, from the controller's settings",
    "machine.rapid_z_mm_min": "fastest move of Z, from the controller's settings",
    "machine.feed_max_mm_min": "fastest feed at which you care to cut",
    "machine.acceleration_x_mm_s2": "acceleration of X, from the controller's settings",
    "machine.acceleration_y_mm_s2": "acceleration of Y, from the controller's settings",
    "machine.acceleration_z_mm_s2": "acceleration of Z, from the controller's settings",
    "machine.corner_deviation_mm": "how far the controller may round a corner to keep its speed, from its settings",
    # movable board
    "machine.board.thickness_mm": "thickness of the movable board, by caliper in three places: the mean",
    "machine.board.size_x_mm": "length of the movable board along X",
    "machine.board.size_y_mm": "length of the movable board along Y",
    "machine.board.hole_pitch_mm": "from hole to hole; measure over ten and divide by ten",
    "machine.board.hole_inset_mm": "from the board's edge to the middle of its row of holes",
    "machine.board.bolt_places_mm": "the fixed threaded inserts that bolts go into, along the board's rows of holes, "
    "from the low end of that travel; empty: near a quarter and three quarters of it",
    "machine.board.bolt_head_height_mm": "how far a bolt's head stands above the board",
    "machine.board.bolt_head_diameter_mm": "across a bolt's head, washer included",
    "machine.board.repeatability_mm": "how far the board misses its place when shifted and put back, by indicator",
    # dust shoe
    "machine.shoe.diameter_mm": "circle that just goes round the dust shoe",
    "machine.shoe.outline_mm": "corners [x, y] from the spindle axis as it sits on the machine; none: round",
    "machine.shoe.below_nose_mm": "how far the shoe hangs below the spindle nose",
    # controller
    "machine.controller.arcs": "whether the controller runs arcs (G2, G3)",
    "machine.controller.radius_arcs": "whether it also takes arcs by their radius (R) instead of their centre",
    "machine.controller.canned_cycles": "whether the controller runs drilling cycles (G81, G83)",
    "machine.controller.radius_compensation": "whether it keeps the cutter beside a contour itself (G41, G42)",
    "machine.controller.probing": "whether it runs probing moves (G38.2)",
    "machine.controller.expressions": "whether it works out parameters and expressions (#1 = [2 * 3])",
    "machine.controller.tool_change": "whether the controller takes T and M6: a program then calls its cutter "
    "by its number; it is one file a cutter all the same",
    "machine.controller.units": "the units programs are written in: mm or inch",
    "machine.controller.decimals": "figures after the point in programs, 2 to 6",
    "machine.controller.line_numbers": "whether lines of a program are numbered",
    "machine.controller.comments": "whether the controller passes over comments in brackets",
    # cutters
    "cutters.name": "what you call the cutter; each name once",
    "cutters.kind": "flat, ball, bull (flat, rounded corners), tapered_ball, v, drill or t_slot (a disc on a neck)",
    "cutters.diameter_mm": "greatest diameter of the cutting part, by caliper over the flutes",
    "cutters.flute_length_mm": "length that cuts, from the tip up to the end of the flutes",
    "cutters.stickout_mm": "from the lower face of the collet nut, tightened, to the tip",
    "cutters.shank_diameter_mm": "diameter of the smooth part that goes into the collet",
    "cutters.corner_radius_mm": "radius of the rounded corner (bull) or of the ball at the tip (tapered_ball)",
    "cutters.included_angle_deg": "full angle of the cone in degrees (v, drill point, tapered_ball)",
    "cutters.neck_diameter_mm": "diameter of a neck between flutes and shank, if it has one",
    "cutters.neck_length_mm": "length of that neck",
    "cutters.flutes": "number of cutting edges",
    "cutters.centre_cutting": "whether it cuts at its very centre, so that it may go straight down",
    "cutters.feed_mm_min": "feed while cutting sideways",
    "cutters.entry_feed_mm_min": "feed while going down into wood",
    "cutters.spindle_rpm": "speed of the spindle for this cutter",
    "cutters.stepdown_mm": "how deep one pass goes",
    "cutters.stepover_mm": "how far one pass lies beside the last",
    # pieces and blanks
    "pieces.name": "what you call the piece; each name once",
    "pieces.shape": "its shape file, in this folder",
    "pieces.shape_unit": "the unit of the shape file where the file states none: mm, cm, m or inch",
    "pieces.thickness_mm": "how thick to make the piece where its shape is only an outline (DXF, SVG)",
    "pieces.blank.size_x_mm": "length of the blank along the piece's x, by rule",
    "pieces.blank.size_y_mm": "width of the blank along the piece's y, by rule",
    "pieces.blank.size_z_mm": "thickness of the blank, by caliper at the four corners: the least",
    "pieces.blank.below_mm": "how much of the blank lies below the piece's lowest point",
    "pieces.blank.species": "the wood",
    "pieces.blank.grain_axis": "the axis of the piece along which the grain runs",
    "pieces.blank.glue_lines_z_mm": "heights of the glue lines above the blank's underside",
    "pieces.wish.first_up": "the side of this piece that shall be up first, whatever [wish] says: +z or -z",
    "pieces.wish.forbid_sides": "sides of this piece that shall never be up, besides those of [wish]",
    # settings
    "settings.wall_allowance_mm": "wood left on walls by roughing",
    "settings.floor_allowance_mm": "wood left on floors by roughing",
    "settings.scallop_mm": "height of the ridges a rounded cutter may leave between two passes",
    "settings.gouge_tolerance_mm": "how far a finished surface may lie inside the piece",
    "settings.leftover_tolerance_mm": "how much wood may stay on a finished surface beside the ridges",
    "settings.through_overlap_mm": "how far a cut right through goes on below",
    "settings.trench_mm": "room beside the cutter in trenches, more than its own width",
    "settings.travel_slack_mm": "travel kept free at every end for putting a placement right",
    "settings.seam_overlap_mm": "how far cuts of two placements overlap at their seam",
    "settings.safe_above_wood_mm": "height above the wood at which joining moves run",
    "settings.plan_pitch_mm": "cell of the planning grid: smaller is finer and slower",
    "settings.proof_pitch_mm": "cell of the proving grid: smaller is finer and slower",
    "settings.assembly_clearance_mm": "room kept between uncut wood and shank, nut and nose",
    # wish
    "wish.first_up": "the side that shall be up first: +z or -z",
    "wish.forbid_sides": "sides that shall never be up, of +x -x +y -y +z -z",
    "wish.max_placements": "how many placements you put up with",
}


def how_to_measure(key: str) -> str:
    """The line for a key such as ``cutters.stickout_mm``, with or without the place in its list; '' if unknown."""
    plain = "".join(part.split("]")[-1] for part in key.split("["))
    return MEASURE.get(plain, "")
