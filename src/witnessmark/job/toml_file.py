"""Any of the tool's TOML files: its text, its tables, and these held against a model, with every trouble told."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from .complaints import Place, first_of, flags_for_numbers, troubles_of
from .errors import Refusal, Trouble, refuse
from .models import Model

LARGEST_BYTES = 1_000_000
DEEPEST = 12

_M = TypeVar("_M", bound=Model)


def load_model(path: Path, model: type[_M], *remedies: str) -> _M:
    """The model that a file states; a Refusal holds everything that is wrong with it, by key."""
    raw = tables_of(file_text(path, *remedies), path.name)
    troubles, found = validated(model, raw, path.name)
    if troubles or found is None:
        raise Refusal(*first_of(once_each(troubles)))
    return found


def file_text(path: Path, *remedies: str) -> str:
    """The text of a file; refused if it is missing (with ``remedies``), vast or no text."""
    try:
        if not path.is_file():
            raise refuse(str(path), "is no file" if path.exists() else "is not there", *remedies)
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:  # a name too long, or with signs that no name has; not ours to read
        why = getattr(error, "strerror", None) or str(error)
        raise refuse(str(path)[:200], f"cannot be read ({why})", *remedies) from None
    if len(content) > LARGEST_BYTES:
        raise refuse(path.name, "is larger than 1 MB, which no such file is", "see whether it is the right file")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise refuse(
            f"{path.name}, line {line}", "is not UTF-8 text", "save the file as UTF-8 in your editor"
        ) from None


def tables_of(text: str, file: str) -> dict[str, Any]:
    """The tables of a TOML text; refused where it cannot be read."""
    try:
        raw = tomllib.loads(text)
        too_deep = _depth(raw) > DEEPEST
    except tomllib.TOMLDecodeError as error:
        raise refuse(
            file,
            f"cannot be read: {_plain(str(error))}",
            'see that texts stand in "quotes", that each key stands once, and that each [table] is closed',
        ) from None
    except RecursionError:
        too_deep = True
    except ValueError as error:  # a date that is no date, a number of too many figures
        raise refuse(file, f"cannot be read: {_plain(str(error))}", "mend the value") from None
    if too_deep:
        raise refuse(
            file,
            "holds lists or tables nested deeper than any that is written here",
            "see whether it is the right file",
        )
    return raw


def _plain(message: str) -> str:
    return (message[0].lower() + message[1:])[:200] if message else "it is not TOML"


def _depth(value: object) -> int:
    if isinstance(value, Mapping):
        return 1 + max((_depth(part) for part in value.values()), default=0)
    if isinstance(value, list):
        return 1 + max((_depth(part) for part in value), default=0)
    return 0


def validated(model: type[_M], raw: object, file: str, prefix: Place = ()) -> tuple[list[Trouble], _M | None]:
    troubles = flags_for_numbers(model, raw, file, prefix) if isinstance(raw, Mapping) else []
    try:
        return troubles, model.model_validate(raw)
    except ValidationError as error:
        return troubles + troubles_of(error, model, file, prefix), None


def once_each(troubles: list[Trouble]) -> list[Trouble]:
    """One trouble a key, where the models and the look at true and false met the same one."""
    first: dict[str, Trouble] = {}
    for trouble in troubles:
        first.setdefault(trouble.where, trouble)
    return list(first.values())
