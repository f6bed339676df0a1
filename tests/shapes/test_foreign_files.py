"""Shape files that no one of this project made: each is read, or refused with a reason; none crashes or hangs.

The files come from packages of the package index (tools/fetch_foreign.py says which) and from the matplotlib that is
installed; 3MF, for which no package with samples was found, is written by lib3mf.
"""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import matplotlib
import pytest
import trimesh

from witnessmark.job.errors import Refusal
from witnessmark.shapes.read import read_outline, read_solid

ROOT = Path(__file__).resolve().parents[2]
LONGEST_S = 30.0


@pytest.fixture(scope="module")
def foreign() -> Path:
    """The folder of fetched files; fails, and says how to fetch them, when they cannot be had."""
    spec = importlib.util.spec_from_file_location("fetch_foreign", ROOT / "tools" / "fetch_foreign.py")
    assert spec is not None
    assert spec.loader is not None
    tool = importlib.util.module_from_spec(spec)
    sys.modules["fetch_foreign"] = tool
    spec.loader.exec_module(tool)
    try:
        return tool.fetch()
    except tool.FetchError as error:
        pytest.fail(f"{error}\nfetch them once with a connection: python tools/fetch_foreign.py")


def sort_out(paths):
    """(read, refused): readings by path, and refusals by path; anything else that is raised fails the test."""
    done, refused = {}, {}
    for path in paths:
        start = time.perf_counter()
        try:
            if path.suffix.lower() in (".dxf", ".svg"):
                done[path] = read_outline(path)
                assert done[path].polygon.is_valid, path.name
                assert done[path].polygon.area > 0, path.name
            else:
                done[path] = read_solid(path)
                done[path].needed()
        except Refusal as refusal:
            done.pop(path, None)
            refused[path] = refusal
        assert time.perf_counter() - start < LONGEST_S, path.name
    for path, refusal in refused.items():
        assert refusal.troubles, path.name
        assert all(trouble.what and trouble.remedies for trouble in refusal.troubles), path.name
    reasons = Counter(re.split(r" at |[(,]", refusal.troubles[0].what)[0] for refusal in refused.values())
    print(f"\n{len(done)} read, {len(refused)} refused: {dict(reasons)}")
    return done, refused


def find(folder: Path, *endings: str) -> list[Path]:
    """Files of these endings, each content once."""
    paths = sorted(path for path in folder.rglob("*") if path.suffix.lower() in endings)
    return list({path.read_bytes(): path for path in paths}.values())


def test_dxf_files_of_the_ezdxf_source(foreign):
    """Three dozen drawings, some damaged on purpose: those with one clear outline are read, the rest refused."""
    read, refused = sort_out(find(foreign, ".dxf"))
    assert len(read) + len(refused) >= 35
    assert len(read) >= 6


def test_svg_files_of_three_packages(foreign):
    """Drawings of pyglet and svgpathtools, and matplotlib's buttons."""
    buttons = find(Path(matplotlib.get_data_path()) / "images", ".svg")
    read, refused = sort_out([*find(foreign, ".svg"), *buttons])
    assert len(read) + len(refused) >= 40
    assert len(read) >= 20


def test_the_circle_and_the_ellipse_of_svgpathtools_are_the_same(foreign):
    """Two of its samples draw one circle of radius 50 under the same transform in two ways."""
    circle, ellipse = (find(foreign / "svgpathtools-1.8.0", ".svg") for _ in range(2))
    one = next(path for path in circle if path.name.endswith("circle.svg"))
    other = next(path for path in ellipse if path.name.endswith("test__ellipse.svg"))
    assert read_outline(one).polygon.area == pytest.approx(read_outline(other).polygon.area, rel=1e-9)


def test_step_files_of_gmsh(foreign):
    """Parts and an assembly: all are read; sizes in the file's own unit."""
    read, refused = sort_out(find(foreign, ".step", ".stp"))
    assert len(read) + len(refused) == 4
    assert len(read) >= 3
    cube = next(reading for path, reading in read.items() if "boundary_colors" in path.name)
    assert cube.needed().volume_mm3 == pytest.approx(100**3)


def test_stl_files_of_gmsh(foreign):
    """Closed ones agree with trimesh on the volume; open surfaces are refused with places."""
    read, refused = sort_out(find(foreign, ".stl"))
    assert len(read) >= 3
    assert len(refused) >= 3
    for path, reading in read.items():
        mesh = trimesh.load_mesh(path)
        assert reading.needed().volume_mm3 == pytest.approx(mesh.volume, rel=1e-3), path.name
    for path, refusal in refused.items():
        assert not trimesh.load_mesh(path).is_watertight, path.name
        assert " at x " in str(refusal)


def test_obj_files_of_pyglet(foreign):
    """A box is read; a logo with faces given twice is refused, and mended or refused again when asked."""
    read, refused = sort_out(find(foreign, ".obj"))
    assert [path.name.split("__")[-1] for path in read] == ["box.obj"]
    still = []
    for path in refused:
        try:
            assert read_solid(path).mended().needed().volume_mm3 > 0
        except Refusal as refusal:
            still.append(refusal)
    assert all(trouble.remedies for refusal in still for trouble in refusal.troubles)


def test_3mf_files_of_lib3mf(foreign, tmp_path):
    """Files of the format's own library: units and build places honoured, an empty build refused."""
    script = Path(__file__).with_name("lib3mf_files.py")
    subprocess.run(
        [sys.executable, str(script), str(foreign / "lib3mf-2.5.0"), str(tmp_path)], check=True, timeout=120
    )
    read, refused = sort_out(find(tmp_path, ".3mf"))
    sizes = {path.stem: reading.health.size_mm for path, reading in read.items()}
    assert sizes["block_inch"] == pytest.approx((101.6, 50.8, 25.4), abs=1e-3)
    assert sizes["two_rings_cm"] == pytest.approx((140, 40, 5), abs=1e-2)
    assert sizes["ring_mm"] == pytest.approx((4, 4, 0.5), abs=1e-3)
    assert [path.stem for path in refused] == ["nothing_built"]
