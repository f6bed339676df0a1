"""The workshop: locks that name no host, benchmarks that cannot fail unseen."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = ["run", "test"]


def pins(name: str) -> dict[str, set[str]]:
    """Package -> versions in a lock (more than one where Python versions differ)."""
    text = (ROOT / "requirements" / f"{name}.lock").read_text(encoding="utf-8")
    found: dict[str, set[str]] = {}
    for package, version in re.findall(r"^([a-z0-9.\-]+)==([^\s;\\]+)", text, re.MULTILINE):
        found.setdefault(package, set()).add(version)
    return found


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_pins_every_line_with_hashes_and_names_no_host(name: str) -> None:
    """Each requirement is an exact version with SHA-256 hashes; no address, index or local path stands in it."""
    text = (ROOT / "requirements" / f"{name}.lock").read_text(encoding="utf-8")
    assert not re.search(r"://|^-|--(?!hash=sha256:)|file:|@ ", text, re.MULTILINE)
    for entry in re.split(r"\n(?=\S)", text.strip()):
        assert re.match(r"[a-z0-9.\-]+==\S+", entry)
        assert "--hash=sha256:" in entry


def test_the_test_lock_holds_the_run_lock_pinned_alike() -> None:
    """What is tested is what is run: every pin of run.lock stands in test.lock with the same versions."""
    run, test = pins("run"), pins("test")
    assert {package: test.get(package) for package in run} == run


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_covers_what_the_project_asks_for(name: str) -> None:
    """Every dependency of pyproject.toml, and the tools that build it, stand in the lock."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = list(project["project"]["dependencies"]) + list(project["build-system"]["requires"])
    if name == "test":
        wanted += project["project"]["optional-dependencies"]["test"]
    names = {re.split(r"[<>=!~\[ ;]", line)[0].lower().replace("_", "-") for line in wanted} | {"editables"}
    assert names <= set(pins(name))


def test_a_failing_benchmark_fails_the_run(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """One script that fails is named and makes the whole non-zero; the others still run; an empty folder fails."""
    spec = importlib.util.spec_from_file_location("run_benchmarks", ROOT / "tools" / "run_benchmarks.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.main([str(tmp_path)]) == 1
    (tmp_path / "bad.py").write_text("raise SystemExit(3)")
    (tmp_path / "good.py").write_text("print('cut')")
    (tmp_path / "_part.py").write_text("raise SystemExit(4)")
    assert module.main([str(tmp_path)]) == 1
    printed = capfd.readouterr().out
    assert "failed: bad" in printed
    assert "cut" in printed
    (tmp_path / "bad.py").unlink()
    assert module.main([str(tmp_path)]) == 0
