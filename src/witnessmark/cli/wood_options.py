"""The options of the verbs on boxes, boards and wood."""

from __future__ import annotations

import argparse


def add_boards(verbs: argparse._SubParsersAction, caution: str) -> None:  # type: ignore[type-arg]
    words = "blanks from the boards on hand: layers, strips, rings, what to saw from which board"
    boards = verbs.add_parser("boards", help=words, description=words.capitalize() + ".", epilog=caution)
    boards.add_argument("folder", nargs="?", default=".", metavar="FOLDER", help="the job folder (default: this one)")
    boards.add_argument(
        "--from", dest="pile", metavar="FILE", help="the boards file (default: boards.toml in FOLDER)"
    )
    boards.add_argument("--start", action="store_true", help="write a first boards.toml to fill in")
    boards.add_argument("--rings", action="store_true", help="hollow layers become rings, their cores are kept")
    boards.add_argument("--use", action="store_true", help="write the blanks (glue lines, rings) into job.toml")
    boards.add_argument("--done", action="store_true", help="it is sawn: boards used go, offcuts come into the file")
    boards.add_argument("--json", action="store_true", help="answer in JSON, for scripts")


def add_layers(verbs: argparse._SubParsersAction, caution: str) -> None:  # type: ignore[type-arg]
    words = "a piece as one block against 2 to 5 pinned and glued layers, in one table"
    layers = verbs.add_parser("layers", help=words, description=words.capitalize() + ".", epilog=caution)
    layers.add_argument("folder", nargs="?", default=".", metavar="FOLDER", help="the job folder (default: this one)")
    layers.add_argument("--piece", metavar="NAME", help="only this piece")
    layers.add_argument("--most", type=int, default=5, metavar="N", help="up to so many layers (default 5)")
    layers.add_argument("--use", type=int, metavar="N", help="write so many layers into job.toml; 1: one block again")
    layers.add_argument("--json", action="store_true", help="answer in JSON, for scripts")


def add_fit(verbs: argparse._SubParsersAction, caution: str) -> None:  # type: ignore[type-arg]
    words = "the hole for a magnet, pin, bearing or dowel, and the gap of a lid, over the seasons of a place"
    fit = verbs.add_parser("fit", help=words, description=words.capitalize() + ".", epilog=caution)
    fit.add_argument("--wood", default="cherry, black", metavar="NAME", help="the wood (default: cherry, black)")
    fit.add_argument("--dry", default="20x35", metavar="CxPCT", help="the dry season: degrees C x humidity (20x35)")
    fit.add_argument("--damp", default="20x65", metavar="CxPCT", help="the damp season (default 20x65)")
    fit.add_argument(
        "--moisture", type=float, default=8.0, metavar="PCT", help="what the meter reads now (default 8)"
    )
    part = fit.add_argument_group("a round part")
    part.add_argument("--part", metavar="DIA", help="its diameter, by caliper")
    part.add_argument("--tolerance", default="0.02", metavar="LEN", help="plus or minus (default 0.02)")
    part.add_argument(
        "--scatter", default="0.03", metavar="LEN", help="of holes as you cut them, plus or minus (0.03)"
    )
    part.add_argument("--edge", metavar="LEN", help="hole's middle to the nearest edge, or half way to the next hole")
    part.add_argument("--end-grain", action="store_true", help="the hole runs along the grain")
    strip = fit.add_argument_group("a strip of holes to try")
    strip.add_argument("--ladder", metavar="FOLDER", help="make a job of nine holes, 0.05 mm from one to the next")
    strip.add_argument("--deep", default="6", metavar="LEN", help="how deep they are (default 6)")
    strip.add_argument("--machine", metavar="NAME", help="a job folder of yours, or a listed machine")
    strip.add_argument("--cutter", action="append", metavar="NAME", help="a cutter of that job or a listed one")
    strip.add_argument("--liked", type=int, metavar="N", help="the hole that you liked, counted from the tight end")
    strip.add_argument("--wanted", choices=("press", "glue", "slide"), default="press", help="what for")
    lid = fit.add_argument_group("a lid in a rebate")
    lid.add_argument("--lid", metavar="ALONGxACROSS", help="its size along the grain x across it")
    lid.add_argument(
        "--least", default="0.2", metavar="LEN", help="the gap that must stay, both sides together (0.2)"
    )
    fit.add_argument("--json", action="store_true", help="answer in JSON, for scripts")


def add_box(verbs: argparse._SubParsersAction, caution: str) -> None:  # type: ignore[type-arg]
    words = "a fitted box from an outline and a few sizes: body, lid and trays as the pieces of a job"
    box = verbs.add_parser("box", help=words, description=words.capitalize() + ".", epilog=caution)
    box.add_argument(
        "folder", nargs="?", default=".", metavar="FOLDER", help="the folder to make, or one with a box.toml"
    )
    given = box.add_argument_group("a new box", "without an outline, what the folder's box.toml makes is told")
    given.add_argument("--outline", metavar="FILE", help="a drawing (DXF, SVG) or traced points (CSV)")
    given.add_argument("--unit", choices=("mm", "cm", "m", "inch"), help="its unit, where the file states none")
    given.add_argument("--rectangle", metavar="XxY", help="or a rectangle")
    given.add_argument("--corner", metavar="LEN", help="radius of the rectangle's corners")
    given.add_argument(
        "--formula", action="append", metavar="F", help="or a formula in t, 0 to 2 pi: r = ...; x = ..., y = ..."
    )
    given.add_argument("--long", metavar="LEN", help="length along x that the outline is scaled to")
    for name, words in (
        ("--inside-height", "from the floor up to the closed lid"),
        ("--wall", "thickness of the walls (default 9)"),
        ("--floor", "of the floor (default 8)"),
        ("--lid", "of the lid at its edge (default 12)"),
        ("--lip", "what stays of the wall outside of the closing (default 4)"),
        ("--rebate", "height of the closing (default 5)"),
        ("--gap", "room all round between lid and body (default 0.3)"),
    ):
        given.add_argument(name, metavar="LEN", help=words)
    given.add_argument("--closing", choices=("rebate", "lip", "flat"), help="how the lid sits (default rebate)")
    given.add_argument("--machine", metavar="NAME", help="a job folder of yours, or a listed machine")
    given.add_argument(
        "--cutter", action="append", metavar="NAME", help="a cutter of that job or a listed one; once each"
    )
    given.add_argument("--wood", default="cherry, black", metavar="NAME", help="the wood (default: cherry, black)")
    box.add_argument("--use", action="store_true", help="parts that box.toml makes by now become pieces of the job")
    box.add_argument("--stl", action="store_true", help="also write the parts as STL, into out/shapes")
    box.add_argument("--json", action="store_true", help="answer in JSON, for scripts")


def add_latch(verbs: argparse._SubParsersAction, caution: str) -> None:  # type: ignore[type-arg]
    words = "a hidden magnetic latch from a wish and the hardware on hand: sizes, margins, how often it works"
    latch = verbs.add_parser("latch", help=words, description=words.capitalize() + ".", epilog=caution)
    latch.add_argument("folder", nargs="?", default=".", metavar="FOLDER", help="the job folder (default: this one)")
    latch.add_argument("--start", action="store_true", help="write a first latch.toml to fill in")
    latch.add_argument(
        "--plots", action="store_true", help="also plots, the key's lining (SVG) and a guide (STL), in out/latch"
    )
    latch.add_argument(
        "--use", action="store_true", help="settle on what is found: into latch.toml, its parts into job.toml"
    )
    latch.add_argument("--json", action="store_true", help="answer in JSON, for scripts")
