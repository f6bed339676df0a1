"""The text of job.toml: a fresh one with a line on every size, and a changed one that keeps the maker's comments."""

from __future__ import annotations

import re
from collections.abc import Mapping, MutableMapping
from typing import Any, get_args

import tomlkit
from pydantic import BaseModel
from tomlkit.items import AoT, Item, Table

from .measure import how_to_measure
from .models import Job
from .units import length_mm

_OPENING = (
    'A Witnessmark job. Lengths are in mm; a length in another unit carries it: "1/4 in", "6.35 mm", "2.5 cm".',
    "The line above each value says what it is and how to measure it. Values that you leave out take their default.",
)
_CUTTERS, _PIECES = "one [[cutters]] table for each cutter", "one [[pieces]] table for each piece, with its blank"


def new_job_text(job: Job) -> str:
    """A fresh job.toml that states every value of a job, each under a line on how to measure it."""
    return fresh_text(job, _OPENING)


def fresh_text(model: BaseModel, opening: tuple[str, ...]) -> str:
    """The same for any of the tool's files, under the lines of its ``opening``."""
    document = tomlkit.document()
    for line in opening:
        document.add(tomlkit.comment(line))
    document.add(tomlkit.nl())
    _fill(document, model, "")
    return re.sub(r"\n{3,}", "\n\n", tomlkit.dumps(document)).rstrip() + "\n"


def _fill(table: Any, model: BaseModel, key: str) -> None:
    """Plain values first, then tables: TOML wants it so."""
    tables: list[tuple[str, Any]] = []
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, BaseModel) or _is_rows(value):
            tables.append((name, value))
        elif value is not None and not _is_no_rows(model, name):
            measure = how_to_measure(f"{key}{name}")
            if measure:
                table.add(tomlkit.comment(measure))
            table.add(name, _item(value))
    for name, value in tables:
        if isinstance(value, BaseModel):
            table.add(name, _table(value, f"{key}{name}."))
        else:
            table.add(name, _rows(value, f"{key}{name}."))


def _is_no_rows(model: BaseModel, name: str) -> bool:
    """Tables of which there are none yet: an empty list in their place would keep them from being added."""
    parts = get_args(type(model).model_fields[name].annotation)
    return (
        getattr(model, name) == () and bool(parts) and isinstance(parts[0], type) and issubclass(parts[0], BaseModel)
    )


def _is_rows(value: object) -> bool:
    return isinstance(value, tuple) and bool(value) and isinstance(value[0], BaseModel)


def _table(model: BaseModel, key: str) -> Table:
    table = tomlkit.table()
    _fill(table, model, key)
    table.add(tomlkit.nl())
    return table


def _rows(models: tuple[BaseModel, ...], key: str) -> AoT:
    rows = tomlkit.aot()
    for model in models:
        rows.append(_table(model, key))
    return rows


def _item(value: object) -> Item:
    """A plain value; a whole float is written without its point."""
    if isinstance(value, tuple):
        return tomlkit.item([_item(part) for part in value])
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return tomlkit.item(int(value))
    return tomlkit.item(value)


def rewritten(text: str, model: BaseModel) -> str:
    """The same text with only what differs from ``model`` changed; comments, order and spelling stay."""
    document = tomlkit.parse(text)
    _update(document, model)
    return tomlkit.dumps(document)


def _update(table: MutableMapping[str, Any], model: BaseModel) -> None:
    for name in [name for name in table if name not in type(model).model_fields]:
        del table[name]
    for name, field in type(model).model_fields.items():
        value, there = getattr(model, name), name in table
        if value is None:
            if there:
                del table[name]
        elif not there:
            if field.is_required() or value != field.get_default(call_default_factory=True):
                table[name] = _whole(value)
        elif isinstance(value, BaseModel) and isinstance(table[name], MutableMapping):
            _update(table[name], value)
        elif _is_rows(value):
            _update_rows(table, name, value)
        elif not _same(table[name], value):
            table[name] = _whole(value)


def _whole(value: object) -> Any:
    """A value, a table or rows of them, as new."""
    if isinstance(value, BaseModel):
        return _table(value, "")
    return _rows(value, "") if _is_rows(value) else _item(value)  # type: ignore[arg-type]


def _same(typed: object, value: object) -> bool:
    """Whether what the maker typed already says this value: "1/4 in" says 6.35."""
    if isinstance(value, tuple):
        return isinstance(typed, list) and len(typed) == len(value) and all(map(_same, typed, value))
    if isinstance(value, bool) or isinstance(typed, bool):
        return typed is value or (isinstance(typed, bool) and typed == value)
    if isinstance(value, float) and isinstance(typed, str | int | float):
        try:
            return length_mm(typed) == value
        except ValueError:
            return False
    return typed == value


def _update_rows(table: MutableMapping[str, Any], name: str, models: tuple[BaseModel, ...]) -> None:
    """Rows are met by their names, so that comments travel with the cutter they speak of."""
    rows = table[name]
    if not isinstance(rows, list) or not all(isinstance(row, MutableMapping) for row in rows):
        table[name] = _whole(models)
        return
    named = {str(row.get("name")): row for row in rows}
    if [str(row.get("name")) for row in rows] != [getattr(model, "name", "") for model in models]:
        kept = [named.get(getattr(model, "name", "")) for model in models]
        table[name] = _rebuilt(rows, kept, models)
        rows = table[name]
    for row, model in zip(rows, models):
        _update(row, model)


def _rebuilt(rows: Any, kept: list[Any], models: tuple[BaseModel, ...]) -> Any:
    """The rows in a new order, some new, some gone; of the same kind, [[tables]] or { inline }, as before."""
    if isinstance(rows, AoT):
        fresh = tomlkit.aot()
        for row, model in zip(kept, models):
            fresh.append(_table(model, "") if row is None else row)
        return fresh
    listed = tomlkit.array().multiline(True)
    for row, model in zip(kept, models):
        inline = tomlkit.inline_table()
        inline.update(row if isinstance(row, Mapping) else {"name": getattr(model, "name", "")})
        listed.append(inline)
    return listed
