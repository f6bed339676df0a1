"""Walls one by one: what belongs together, and the worst of each where it is."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from workpiece import Script, outside, pocket, proven

from witnessmark.proof.each_wall import WorstOfWalls, wall_numbers, worst_wall
from witnessmark.proof.report import summary_text


def triangles_of(solid: manifold3d.Manifold) -> np.ndarray:
    mesh = solid.to_mesh()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)].astype(np.float64)


def test_a_block_has_four_walls_and_a_round_pocket_one() -> None:
    """Corners part walls, the small turns of a round wall do not; top and bottom are none."""
    block = manifold3d.Manifold.cube((60, 40, 20))
    hole = manifold3d.Manifold.cylinder(10, 8, circular_segments=64).translate((30, 20, 12))
    triangles = triangles_of(block - hole)
    number = wall_numbers(triangles)
    assert number.max() + 1 == 5
    walls = WorstOfWalls(triangles).told()
    assert [wall.area_mm2 for wall in walls[:4]] == pytest.approx([1200, 1200, 800, 800])
    assert walls[4].area_mm2 == pytest.approx(8 * 2 * np.pi * 8, rel=1e-2)


def test_the_worst_of_each_wall_is_kept_with_its_place() -> None:
    triangles = triangles_of(manifold3d.Manifold.cube((60, 40, 20)))
    worst = WorstOfWalls(triangles)
    right = np.flatnonzero((triangles[:, :, 0] == 60).all(axis=1))
    face = np.array([right[0], right[1], right[0]])
    places = np.array([[60.0, 1, 1], [60.0, 2, 2], [60.0, 3, 3]])
    worst.gouged(face, places, np.array([0.01, 0.04, 0.02]))
    worst.left(face[:1], places[:1], np.array([0.05]))
    wall = worst_wall(worst.told())
    assert wall.gouge_mm == 0.04
    assert wall.gouge_at_mm == (60.0, 2.0, 2.0)
    assert (wall.left_mm, wall.left_at_mm) == (0.05, (60.0, 1.0, 1.0))
    assert sum(other.gouge_mm > 0 for other in worst.told()) == 1


def test_a_pocket_left_a_little_small_shows_on_its_own_walls() -> None:
    """0.08 mm is left on the pocket's walls and nothing on the block's; the summary names one of them."""
    verdict = proven(outside(pocket(Script(), reach=-0.08, corner=0.0)).text())
    outer = [wall for wall in verdict.walls.each if wall.low_mm[2] == 0.0]
    inner = [wall for wall in verdict.walls.each if wall.low_mm[2] > 0.0]
    assert len(outer) == 4
    assert max(wall.left_mm for wall in outer) < 0.001
    assert max(wall.left_mm for wall in inner) == pytest.approx(0.08, abs=0.001)
    assert f"worst of {len(verdict.walls.each)} walls at x" in summary_text(verdict)
