"""A job folder as a maker writes it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hand_written import HAND_WRITTEN

from witnessmark.job.files import JOB_FILE


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "body.stl").write_text("solid body", encoding="utf-8")
    (tmp_path / JOB_FILE).write_text(HAND_WRITTEN, encoding="utf-8")
    return tmp_path
