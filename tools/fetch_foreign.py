"""Fetch shape files that no one of this project made, for tests/shapes/test_foreign_files.py.

    python tools/fetch_foreign.py

They are sample files inside packages of the package index, fetched by pip, checked against the digests below, and
kept in .cache/foreign (never committed). Licences of the packages: ezdxf MIT, svgpathtools MIT, pyglet BSD-3-Clause,
gmsh GPL-2.0-or-later (only its sample shapes are unpacked), lib3mf BSD-2-Clause (the 3MF Consortium's own library:
it writes 3MF files for the test, since no package was found that ships any).
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

CACHE = Path(__file__).resolve().parent.parent / ".cache" / "foreign"
SUFFIXES = (".dxf", ".svg", ".stl", ".obj", ".3mf", ".step", ".stp")
TIMEOUT_S = 600.0


@dataclass(frozen=True)
class Package:
    """What to fetch: a source distribution, or a wheel; ``every_file`` unpacks all of it.

    ``sha256`` is that of ``archive``; a wheel for another system has another name, and is taken as it comes.
    """

    name: str
    version: str
    kind: str
    archive: str
    sha256: str
    every_file: bool = False


PACKAGES = (
    Package(
        "ezdxf",
        "1.4.5",
        "source",
        "ezdxf-1.4.5.tar.gz",
        "a6c3bbc1a65ce764d97c5beafe6ae693d8ed14c6cdae366b50e1974a79d4a00a",
    ),
    Package(
        "svgpathtools",
        "1.8.0",
        "source",
        "svgpathtools-1.8.0.tar.gz",
        "e5fc4a7b5aae744e4a9de698e0ff54a9d3769c578d1e420cc452eedcaf1650fb",
    ),
    Package(
        "pyglet",
        "2.1.19",
        "source",
        "pyglet-2.1.19.tar.gz",
        "77fae024df940c60917ba604bab9b7e26306d66734186634b698c708cdd9f4be",
    ),
    Package(
        "gmsh",
        "4.15.2",
        "wheel",
        "gmsh-4.15.2-py2.py3-none-manylinux_2_24_x86_64.whl",
        "4076a948ce22625330d1413d4982e22b5c69fc2f0f7951f5df64c778cf54108c",
    ),
    Package(
        "lib3mf",
        "2.5.0",
        "wheel",
        "lib3mf-2.5.0-py3-none-manylinux2014_x86_64.whl",
        "b4c00033c47cfeac93b7daa069fb46e8dea4391d5522b79cd6e9f6af75e33013",
        every_file=True,
    ),
)


class FetchError(Exception):
    """The files are not there and could not be fetched."""


def fetch(cache: Path = CACHE) -> Path:
    """The folder with one folder a package; only what is missing is fetched."""
    cache.mkdir(parents=True, exist_ok=True)
    for package in PACKAGES:
        folder = cache / f"{package.name}-{package.version}"
        if not folder.is_dir():
            with tempfile.TemporaryDirectory(dir=cache) as beside:
                made = _fetched(package, Path(beside))
                if not folder.is_dir():  # another process may have been quicker
                    made.rename(folder)
    return cache


def _fetched(package: Package, beside: Path) -> Path:
    wanted = f"{package.name}=={package.version}"
    kind = ["--no-binary", package.name] if package.kind == "source" else ["--only-binary", package.name]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", *kind, "--dest", str(beside), wanted]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=TIMEOUT_S, check=False)
    except subprocess.TimeoutExpired as error:
        raise FetchError(f"{wanted} could not be fetched within {TIMEOUT_S:.0f} s") from error
    archives = [path for path in beside.iterdir() if path.suffix in (".gz", ".whl", ".zip")]
    if done.returncode != 0 or len(archives) != 1:
        raise FetchError(f"{wanted} could not be fetched by pip:\n{done.stderr[-2000:]}")
    _check_digest(archives[0], package)
    made = beside / "made"
    made.mkdir()
    for name, content in _members(archives[0], package.every_file):
        place = made / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
    return made


def _check_digest(archive: Path, package: Package) -> None:
    found = hashlib.sha256(archive.read_bytes()).hexdigest()
    if archive.name == package.archive and found != package.sha256:
        raise FetchError(f"{archive.name} is not the file that was checked (sha256 {found})")


def _members(archive: Path, every_file: bool) -> Iterator[tuple[str, bytes]]:
    """Safe names and contents. Sample shapes get flat names; ``every_file`` keeps the package's own folders."""
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as wheel:
            names = [name for name in wheel.namelist() if _wanted(name, every_file)]
            for name in names:
                yield _place(name, every_file), wheel.read(name)
        return
    with tarfile.open(archive) as source:
        for member in source:
            content = source.extractfile(member) if member.isfile() and _wanted(member.name, every_file) else None
            if content is not None:
                yield _place(member.name, every_file), content.read()


def _wanted(name: str, every_file: bool) -> bool:
    safe = not name.startswith("/") and ".." not in Path(name).parts and not name.endswith("/")
    return safe and (every_file or name.lower().endswith(SUFFIXES))


def _place(name: str, every_file: bool) -> str:
    return name if every_file else "__".join(Path(name).parts[-3:])


if __name__ == "__main__":
    try:
        fetched = fetch()
    except FetchError as error:
        sys.exit(f"{error}\nCheck the connection to the package index and run this again.")
    for path in sorted(fetched.iterdir()):
        print(f"{path.name}: {sum(1 for file in path.rglob('*') if file.suffix.lower() in SUFFIXES)} sample shapes")
