"""Settings for every test: on the build machine hypothesis tries the same examples every time, elsewhere new ones;
and the order of the folders."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

HERE = Path(__file__).parent

settings.register_profile("build", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("bench", deadline=None, print_blob=True)
settings.load_profile("build" if os.environ.get("CI") else "bench")

# Two workers begin with one half each. In this order one half compiles the kernels that judge, the other those of
# shapes, cut lists and programs; what needs more than its own comes later and finds the others' compiled. The longest
# tests come before the many short ones: whoever is done first then takes those over, and neither waits for the other.
FOLDERS = (
    "field", "proof", "reach", "locate", "log", "tools", "job", "sheet",
    "shapes", "wood", "latch", "program", "plan", "path", "verbs", "examples", "against_published", "cli",
)  # fmt: skip
LONG = ("test_whole_examples", "test_coastline_box", "test_boards", "test_foreign_jobs")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    place = {name: k for k, name in enumerate(FOLDERS)}
    items.sort(key=lambda item: (place[item.path.relative_to(HERE).parts[0]], item.path.stem not in LONG))
