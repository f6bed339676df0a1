"""The job's folder: reading job.toml with every trouble at once, and writing it with the maker's comments kept."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from .checks import Parts, cross_checks
from .complaints import Place, first_of, flags_for_numbers, key_path, troubles_of
from .errors import Refusal, Trouble, refuse
from .models import Cutter, Job, Machine, Model, PieceSpec, Settings, Wish
from .rewrite import new_job_text, rewritten
from .whole import write_text_whole

JOB_FILE = "job.toml"
LARGEST_BYTES = 1_000_000
DEEPEST = 12

_M = TypeVar("_M", bound=Model)


def load_job(folder: Path | str) -> Job:
    """Read ``job.toml`` of a folder. A Refusal holds everything that is wrong with it, by key."""
    folder = Path(folder)
    return job_from_text(read_text(folder), folder)


def job_from_text(text: str, folder: Path | None = None) -> Job:
    """The job a text states; with ``folder`` its shape files are looked for there."""
    raw = _tables(text)
    troubles, job = _validated(Job, raw, ())
    troubles = _once_each(troubles) + _empty_lists(raw) + cross_checks(_valid_parts(raw), folder, JOB_FILE)
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
    _tables(text)
    return text


def read_text(folder: Path) -> str:
    """The text of the folder's job.toml; refused if it is missing, vast or no text."""
    path = folder / JOB_FILE
    name_it = ("name the folder that holds job.toml", "or make a job from a shape: witnessmark new")
    try:
        if not path.is_file():
            raise refuse(str(path), "is no file" if path.exists() else "is not there", *name_it)
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:  # a name too long, or with signs that no name has; not ours to read
        why = getattr(error, "strerror", None) or str(error)
        raise refuse(str(path)[:200], f"cannot be read ({why})", *name_it) from None
    if len(content) > LARGEST_BYTES:
        raise refuse(JOB_FILE, "is larger than 1 MB, which no job is", "see whether it is the right file")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise refuse(
            f"{JOB_FILE}, line {line}", "is not UTF-8 text", "save the file as UTF-8 in your editor"
        ) from None


def _tables(text: str) -> dict[str, Any]:
    try:
        raw = tomllib.loads(text)
        too_deep = _depth(raw) > DEEPEST
    except tomllib.TOMLDecodeError as error:
        raise refuse(
            JOB_FILE,
            f"cannot be read: {_plain(str(error))}",
            'see that texts stand in "quotes", that each key stands once, and that each [table] is closed',
        ) from None
    except RecursionError:
        too_deep = True
    except ValueError as error:  # a date that is no date, a number of too many figures
        raise refuse(JOB_FILE, f"cannot be read: {_plain(str(error))}", "mend the value") from None
    if too_deep:
        raise refuse(JOB_FILE, "holds lists or tables nested deeper than any job", "see whether it is the right file")
    return raw


def _plain(message: str) -> str:
    return (message[0].lower() + message[1:])[:200] if message else "it is not TOML"


def _depth(value: object) -> int:
    if isinstance(value, Mapping):
        return 1 + max((_depth(part) for part in value.values()), default=0)
    if isinstance(value, list):
        return 1 + max((_depth(part) for part in value), default=0)
    return 0


def _validated(model: type[_M], raw: object, prefix: Place) -> tuple[list[Trouble], _M | None]:
    troubles = flags_for_numbers(model, raw, JOB_FILE, prefix) if isinstance(raw, Mapping) else []
    try:
        return troubles, model.model_validate(raw)
    except ValidationError as error:
        return troubles + troubles_of(error, model, JOB_FILE, prefix), None


def _part(model: type[_M], raw: object) -> _M | None:
    return _validated(model, raw, ())[1]


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


def _once_each(troubles: list[Trouble]) -> list[Trouble]:
    """One trouble a key, where the models and the look at true and false met the same one."""
    first: dict[str, Trouble] = {}
    for trouble in troubles:
        first.setdefault(trouble.where, trouble)
    return list(first.values())
