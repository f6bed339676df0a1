"""The blank from boards: layers, strips and rings, what is to be sawn, and what glueing it takes.

Question  of how many layers and strips is a blank of this size glued up, and which rings of it need no core
Frame     blank: x, y from its middle, z from its underside; the grain along ``grain`` (x or y)
Units     mm, m2, g, N, minutes
Method    every layer is a panel of strips of one width, edge to edge; the next layer's strips are offset by half
          a strip. A layer that is hollow in the piece, and open through all layers above, becomes a ring: its core
          is sawn out along the hollow and kept
Source    pressures: 0.7 MPa for light to 1.7 MPa for dense wood (Wood Handbook ch. 10, from memory); widths of
          strips, staggered joints, glue a square metre: common practice, no source
Valid     flat joints of planed wood, all grain one way
Refuses   blanks with the grain upright, boards too thin for any layer (Refusal)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from witnessmark.job.boards import Board, Glueing, Sawing
from witnessmark.job.errors import refuse
from witnessmark.shapes.rings import Area

from .layout.parts import CutPart

MOST_LAYERS = 12
SURE_MM = 1.5  # a core sawn by hand may leave so much more wood
LEAST_CORE_MM2 = 2500.0
LEAST_FLOOR_MM = 3.0
OUTLINE_MM = 0.5  # how far the kept outline of a hollow may stray inward
CELL_MM = 2.0

SectionAt = Callable[[float], Area]  # what the piece is at a height above the blank's underside


@dataclass(frozen=True)
class Need:
    """A blank to make: name, size, wood, and the axis its grain runs along."""

    name: str
    size_x_mm: float
    size_y_mm: float
    size_z_mm: float
    species: str
    grain: str

    @property
    def long_mm(self) -> float:
        """Along the grain."""
        return self.size_x_mm if self.grain == "x" else self.size_y_mm

    @property
    def wide_mm(self) -> float:
        return self.size_y_mm if self.grain == "x" else self.size_x_mm


@dataclass(frozen=True, eq=False)
class Layer:
    """A layer: its heights, its strips' edges across the grain (from the one edge), its hollow if it is a ring."""

    z_from_mm: float
    z_to_mm: float
    edges_mm: tuple[float, ...]
    hollow: Area | None = None

    @property
    def thick_mm(self) -> float:
        return self.z_to_mm - self.z_from_mm


@dataclass(frozen=True, eq=False)
class GlueUp:
    """A blank as it is glued up."""

    need: Need
    layers: tuple[Layer, ...]

    @property
    def lines_z_mm(self) -> tuple[float, ...]:
        return tuple(layer.z_from_mm for layer in self.layers[1:])

    def parts(self, sawing: Sawing) -> list[CutPart]:
        """What is to be sawn, with allowances for jointing, planing and trimming."""
        found = []
        for number, layer in enumerate(self.layers, 1):
            widths = np.diff(layer.edges_mm)
            for k, width_mm in enumerate(widths.tolist(), 1):
                strip = f", strip {k}" if len(widths) > 1 else ""
                name = (
                    f"{self.need.name}, layer {number}{strip}" if len(self.layers) > 1 else f"{self.need.name}{strip}"
                )
                joint_mm = 2 * sawing.joint_mm if len(widths) > 1 else 0.0
                found.append(
                    CutPart(
                        name,
                        self.need.long_mm + sawing.long_mm,
                        width_mm + joint_mm,
                        layer.thick_mm + 2 * sawing.plane_mm,
                        self.need.species,
                    )
                )
        return found

    @property
    def glue_m2(self) -> float:
        """Joints between layers and between strips."""
        faces = 0.0
        for below, above in pairwise(self.layers):
            hollow_mm2 = max((layer.hollow.area for layer in (below, above) if layer.hollow is not None), default=0.0)
            faces += self.need.size_x_mm * self.need.size_y_mm - hollow_mm2
        edges = sum((len(layer.edges_mm) - 2) * layer.thick_mm * self.need.long_mm for layer in self.layers)
        return (faces + edges) / 1e6


@dataclass(frozen=True)
class Glued:
    """What glueing takes: glue, the time to spread it, how many goes, clamps for the largest joint."""

    area_m2: float
    glue_g: float
    spread_minutes: float
    goes: int
    clamps: int
    press_n: float


def glued(glue_up: GlueUp, glueing: Glueing) -> Glued:
    """The glue-up in numbers; goes: so that no glue dries before it is closed."""
    area_m2 = glue_up.glue_m2
    minutes = area_m2 / glueing.spread_m2_min
    face_mm2 = glue_up.need.size_x_mm * glue_up.need.size_y_mm if len(glue_up.layers) > 1 else 0.0
    edge_mm2 = max(
        (layer.thick_mm * glue_up.need.long_mm for layer in glue_up.layers if len(layer.edges_mm) > 2), default=0.0
    )
    press_n = max(face_mm2, edge_mm2) * glueing.pressure_mpa
    goes = max(1, math.ceil(minutes / glueing.open_minutes)) if area_m2 else 0
    return Glued(area_m2, area_m2 * glueing.glue_g_m2, minutes, goes, math.ceil(press_n / glueing.clamp_n), press_n)


def layer_counts(need: Need, boards: Sequence[Board], sawing: Sawing) -> list[int]:
    """Numbers of layers that the boards on hand allow, the fewest first; refused where there are none."""
    if need.grain not in ("x", "y"):
        raise refuse(f"piece {need.name}, blank.grain_axis", "runs upright: end grain is not glued to end grain",
                     "let the grain run along x or y")  # fmt: skip
    mine = [board for board in boards if board.species == need.species]
    if not mine:
        raise refuse(f"piece {need.name}", f"no board on hand is of {need.species}", "see boards.toml, species",
                     "or change blank.species")  # fmt: skip
    thickest = max(board.thickness_mm for board in mine) - 2 * sawing.plane_mm
    if thickest <= 0:
        raise refuse(f"piece {need.name}", "every board is gone when it is planed", "see sawing.plane_mm")
    fewest = math.ceil(need.size_z_mm / thickest - 1e-9)
    thinnest = min(board.thickness_mm for board in mine) - 2 * sawing.plane_mm
    most = min(MOST_LAYERS, max(fewest, math.ceil(need.size_z_mm / max(thinnest, 1.0) - 1e-9)))
    if fewest > MOST_LAYERS:
        raise refuse(f"piece {need.name}", f"would take {fewest} layers", "use thicker boards")
    return list(range(fewest, most + 1))


def strip_counts(need: Need, boards: Sequence[Board], sawing: Sawing) -> list[int]:
    """Numbers of strips side by side that could be sawn from the boards on hand, a few to choose among."""
    mine = [board.width_mm - 2 * sawing.edge_mm for board in boards if board.species == need.species]
    widest = min(max(mine), sawing.widest_strip_mm)
    fewest = max(1, math.ceil(need.wide_mm / max(widest - 2 * sawing.joint_mm, 1.0) - 1e-9))
    return [fewest, fewest + 1, fewest + 2]


def stacked(need: Need, layers: int, strips: int) -> GlueUp:
    """A blank of so many layers of so many strips, joints of neighbouring layers half a strip apart."""
    thick_mm, strip_mm = need.size_z_mm / layers, need.wide_mm / strips
    even = tuple(round(k * strip_mm, 3) for k in range(strips + 1))
    odd = tuple(sorted({0.0, need.wide_mm, *(round((k + 0.5) * strip_mm, 3) for k in range(strips))}))
    found = []
    for k in range(layers):
        edges = odd if k % 2 and strips > 1 else even
        found.append(Layer(round(k * thick_mm, 3), round((k + 1) * thick_mm, 3), edges))
    return GlueUp(need, tuple(found))


def ringed(glue_up: GlueUp, section_at: SectionAt, sawing: Sawing, places: int = 5) -> GlueUp:
    """The same with rings for layers that are hollow in the piece and open above."""
    open_above: Area | None = None
    layers: list[Layer] = []
    for layer in reversed(glue_up.layers):
        heights = np.linspace(layer.z_from_mm + 1e-3, layer.z_to_mm - 1e-3, places).tolist()
        wood = shapely.union_all([section_at(z) for z in heights])
        inside = _inside(wood) if not wood.is_empty else None
        if inside is not None and open_above is not None:
            inside = shapely.intersection(inside, open_above)
        core = _core(inside, sawing.ring_wood_mm) if inside is not None and not inside.is_empty else None
        if wood.is_empty:
            layers.append(layer)  # above the piece: a whole layer would close what is below
            open_above = shapely.Polygon()
            continue
        open_above = inside if inside is not None else shapely.Polygon()
        if core is None:
            open_above = shapely.Polygon()
            layers.append(layer)
        else:
            layers.append(Layer(layer.z_from_mm, layer.z_to_mm, layer.edges_mm, core))
    return GlueUp(glue_up.need, tuple(reversed(layers)))


def _inside(wood: Area) -> Area:
    """What a slice of the piece encloses."""
    holes = [shapely.Polygon(ring) for part in shapely.get_parts(wood) for ring in part.interiors]
    return shapely.union_all(holes)


def _core(inside: Area, ring_wood_mm: float) -> Area | None:
    """The largest core that can be sawn out; None where it is not worth it."""
    shrunk = shapely.buffer(shapely.buffer(inside, -(ring_wood_mm + 5.0)), 5.0, quad_segs=8)
    parts = [part for part in shapely.get_parts(shrunk) if part.area >= LEAST_CORE_MM2]
    if not parts:
        return None
    largest = max(parts, key=lambda part: part.area)
    return shapely.simplify(shapely.Polygon(largest.exterior), OUTLINE_MM / 2)


def surely_hollow(core: Area) -> NDArray[np.float64]:
    """Corners (n, 2) of what is surely empty where a core was sawn out by hand."""
    sure = shapely.simplify(shapely.buffer(core, -(SURE_MM + OUTLINE_MM), quad_segs=4), OUTLINE_MM)
    return np.asarray(max(shapely.get_parts(sure), key=lambda part: part.area).exterior.coords)[:-1]


def largest_rectangle_mm(core: Area, kerf_mm: float) -> tuple[float, float]:
    """Size along x and y of the largest rectangle in a core that was sawn out, to a cell of ``CELL_MM``."""
    area = shapely.buffer(core, -kerf_mm)
    if area.is_empty:
        return 0.0, 0.0
    x0, y0, x1, y1 = area.bounds
    x = np.arange(x0 + CELL_MM / 2, x1, CELL_MM)
    y = np.arange(y0 + CELL_MM / 2, y1, CELL_MM)
    inside = shapely.contains_xy(area, *np.meshgrid(x, y))
    heights = np.zeros(len(x), dtype=np.int64)
    best = (0, 0, 0)
    for row in inside:
        heights = np.where(row, heights + 1, 0)
        best = max(best, _largest_under(heights))
    return max(0, best[1] - 1) * CELL_MM, max(0, best[2] - 1) * CELL_MM


def _largest_under(heights: NDArray[np.int64]) -> tuple[int, int, int]:
    """The largest rectangle under a row of bars: (cells, along, up)."""
    best = (0, 0, 0)
    stack: list[tuple[int, int]] = []
    for at, high in enumerate([*heights.tolist(), 0]):
        start = at
        while stack and stack[-1][1] >= high:
            start, top = stack.pop()
            best = max(best, ((at - start) * top, at - start, top))
        stack.append((start, high))
    return best
