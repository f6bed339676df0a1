"""The job's folder: reading job.toml with every trouble at once, and writing it with the maker's comments kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from .checks import Parts, cross_checks
from .complaints import first_of, key_path
from .errors import Refusal, Trouble
from .models import Cutter, Job, Machine, Model, PieceSpec, Settings, Wish
from .rewrite import new_job_text, rewritten
from .toml_file import file_text, once_each, tables_of, validated
from .whole import write_text_whole

JOB_FILE = "job.toml"

_M = TypeVar("_M", bound=Model)


def load_job(folder: Path | str) -> Job:
    """Read ``job.toml`` of a folder. A Refusal holds everything that is wrong with it, by key."""
    folder = Path(folder)
    return job_from_text(read_text(folder), folder)


def job_from_text(text: str, folder: Path | None = None) -> Job:
    """The job a text states; with ``folder`` its shape files are looked for there."""
    raw = tables_of(text, JOB_FILE)
    troubles, job = validated(Job, raw, JOB_FILE)
    troubles = once_each(troubles) + _empty_lists(raw) + cross_checks(_valid_parts(raw), folder, JOB_FILE)
    if troubles or job is None:
        raise Refusal(*first_of(troubles))
    return job


def save_job(job: Job, folder: Path | str) -> None:
    """Write ``job.toml``; where there is one, the maker's comments, order and spelling of values are kept.

    Refused, with the old file untouched, if the job does not hold together or the old file cannot be read.
    """
    folder = Path(folder)
    text = new_job_text(job)
    if (folder / JOB_FILE).exists():
        text = rewritten(_readable(read_text(folder)), job)
    if job_from_text(text) != job:
        raise RuntimeError("job.toml as rewritten does not read back as the job; the old file is untouched")
    write_text_whole((folder / JOB_FILE).resolve(), text)


def _readable(text: str) -> str:
    tables_of(text, JOB_FILE)
    return text


def read_text(folder: Path) -> str:
    """The text of the folder's job.toml; refused if it is missing, vast or no text."""
    remedies = ("name the folder that holds job.toml", "or make a job from a shape: witnessmark new")
    return file_text(folder / JOB_FILE, *remedies)


def _part(model: type[_M], raw: object) -> _M | None:
    return validated(model, raw, JOB_FILE)[1]


def _valid_parts(raw: Mapping[str, Any]) -> Parts:
    """The parts that are valid in themselves, whatever is wrong elsewhere."""

    def rows(model: type[_M], key: str) -> list[tuple[int, _M]]:
        listed = raw.get(key)
        found = enumerate(_part(model, row) for row in (listed if isinstance(listed, list) else []))
        return [(index, part) for index, part in found if part is not None]

    return Parts(
        _part(Machine, raw.get("machine")),
        rows(Cutter, "cutters"),
        rows(PieceSpec, "pieces"),
        _part(Settings, raw.get("settings", {})),
        _part(Wish, raw.get("wish", {})),
    )


def _empty_lists(raw: Mapping[str, Any]) -> list[Trouble]:
    remedies = {"cutters": "add a [[cutters]] table", "pieces": "add a [[pieces]] table with its [pieces.blank]"}
    return [
        Trouble(f"{JOB_FILE}, {key_path((key,))}", "lists none; a job needs at least one", (remedy,))
        for key, remedy in remedies.items()
        if raw.get(key) == []
    ]
