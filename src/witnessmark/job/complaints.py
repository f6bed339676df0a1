"""From what is wrong with the raw tables of a job to troubles in a maker's words: key, what, remedy."""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from .errors import Trouble
from .measure import how_to_measure

Place = tuple[str | int, ...]

MOST_TROUBLES = 40
PARTED = {  # keys of earlier versions, and what each is now
    "rapid_mm_min": ("rapid_x_mm_min", "rapid_y_mm_min"),
    "acceleration_mm_s2": ("acceleration_x_mm_s2", "acceleration_y_mm_s2"),
}


def key_path(place: Place) -> str:
    """``("cutters", 1, "stickout_mm")`` -> ``cutters[2].stickout_mm``: people count from one."""
    path = ""
    for part in place:
        path += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if path else str(part)
    return path


def nearest(word: str, known: Iterable[str], likeness_ratio: float = 0.5) -> str:
    """The known word most like this one, '' where none is as like as that (0 to 1)."""
    return next(iter(difflib.get_close_matches(word[:80], list(known), n=1, cutoff=likeness_ratio)), "")


def short(value: object) -> str:
    """A value as it was typed, cut short where it is long."""
    if isinstance(value, str):
        value = value[:60] + ("..." if len(value) > 60 else "")
    elif isinstance(value, Mapping):
        return "a table"
    elif isinstance(value, list | tuple):
        return "a list"
    elif isinstance(value, bool):
        return "true" if value else "false"
    shown = repr(value) if not isinstance(value, int) or abs(value) < 10**40 else "a number of more than 40 figures"
    return shown[:80]


def model_at(model: type[BaseModel], place: Place) -> type[BaseModel] | None:
    """The model that a place in the tables belongs to, by walking the annotations; None where it is a plain value."""
    annotation: Any = model
    for part in place:
        if isinstance(part, str):
            owner = _model_in(annotation)
            if owner is None or part not in owner.model_fields:
                return None
            annotation = owner.model_fields[part].annotation
    return _model_in(annotation)


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_in(part) for part in typing.get_args(annotation))
    return next((part for part in found if part is not None), None)


def _plain_types(annotation: Any) -> set[type]:
    """The plain types an annotation allows: ``float | None`` -> {float, NoneType}."""
    if typing.get_origin(annotation) in (typing.Union, types.UnionType, typing.Annotated):
        return set().union(*(_plain_types(part) for part in typing.get_args(annotation)))
    return {annotation} if isinstance(annotation, type) else set()


def flags_for_numbers(
    model: type[BaseModel], table: Mapping[str, Any], file: str, place: Place = ()
) -> list[Trouble]:
    """true and false where a number is wanted, and the reverse: the models would quietly take them as 1 and 0."""
    troubles: list[Trouble] = []
    for key, value in table.items():
        if key not in model.model_fields:
            continue
        below, here = model_at(model, (key,)), (*place, key)
        if below is not None:
            rows = value if isinstance(value, list) else [value]
            for index, row in enumerate(rows):
                if isinstance(row, Mapping):
                    troubles += flags_for_numbers(
                        below, row, file, (*here, index) if isinstance(value, list) else here
                    )
            continue
        wanted = _plain_types(model.model_fields[key].annotation)
        if isinstance(value, bool) and bool not in wanted and wanted & {int, float}:
            troubles.append(_trouble(file, here, f"is {short(value)}; it wants a number"))
        if bool in wanted and not isinstance(value, bool):
            troubles.append(_trouble(file, here, f"is {short(value)}; it wants true or false", "write true or false"))
    return troubles


def troubles_of(error: ValidationError, model: type[BaseModel], file: str, prefix: Place = ()) -> list[Trouble]:
    """Every complaint of the models as a trouble."""
    return [_from_detail(typing.cast(dict[str, Any], detail), model, file, prefix) for detail in error.errors()]


def _from_detail(detail: dict[str, Any], model: type[BaseModel], file: str, prefix: Place) -> Trouble:
    place: Place = tuple(detail["loc"])
    kind, value, context = str(detail["type"]), detail.get("input"), detail.get("ctx", {})
    full = (*prefix, *place)
    if kind == "extra_forbidden":
        return _unknown_key(model, place, file, full)
    if kind == "missing":
        return _trouble(file, full, "is missing", f"add a line: {place[-1]} = ...")
    if kind == "literal_error":
        choices = [str(choice) for choice in typing.get_args(_annotation(model, place)) if isinstance(choice, str)]
        choices = choices or str(context.get("expected", "")).replace("'", "").replace(" or ", ", ").split(", ")
        like = nearest(str(value), choices)
        advice = [f'did you mean "{like}"?'] if like else []
        return _trouble(file, full, f"is {short(value)}; it must be one of {', '.join(choices)}", *advice)
    return _trouble(file, full, _PLAIN.get(kind, _plain)(value, context, str(detail["msg"])))


def _annotation(model: type[BaseModel], place: Place) -> Any:
    owner = model_at(model, place[:-1])
    field = owner.model_fields.get(str(place[-1])) if owner else None
    return field.annotation if field else None


def _unknown_key(model: type[BaseModel], place: Place, file: str, full: Place) -> Trouble:
    owner = model_at(model, place[:-1])
    known = list(owner.model_fields) if owner else []
    word = str(place[-1])
    parts = PARTED.get(word, ())
    if parts and set(parts) <= set(known):
        what = f"is now one key for each axis: {' and '.join(parts)}"
        remedy = f"write its value at {' and at '.join(parts)}, and leave {word} out"
        return Trouble(f"{file}, {key_path(full)}", what, (remedy,))
    like = nearest(word, known) or nearest(word, [name for name in known if name.rsplit("_", 1)[0] == word])
    advice = f"did you mean {like}?" if like else f"known here: {', '.join(known)}"
    shown = word if len(word) <= 60 else word[:60] + "..."
    return Trouble(f"{file}, {key_path((*full[:-1], shown))}", "is not a key that is known here", (advice,))


def _trouble(file: str, place: Place, what: str, *remedies: str) -> Trouble:
    measure = how_to_measure(key_path(place))
    return Trouble(f"{file}, {key_path(place)}", what, (*remedies, *([f"what it is: {measure}"] if measure else [])))


def _plain(value: object, context: Mapping[str, Any], message: str) -> str:
    return f"is {short(value)}: {message[0].lower()}{message[1:]}"


def _bounds(words: str, key: str) -> Any:
    def say(value: object, context: Mapping[str, Any], message: str) -> str:
        return f"is {short(value)}; it must be {words} {context[key]:g}"

    return say


def _wants(words: str) -> Any:
    return lambda value, context, message: f"is {short(value)}; it wants {words}"


_PLAIN: dict[str, Any] = {
    "greater_than": _bounds("more than", "gt"),
    "greater_than_equal": _bounds("at least", "ge"),
    "less_than": _bounds("less than", "lt"),
    "less_than_equal": _bounds("at most", "le"),
    "finite_number": _wants("a number that ends"),
    "float_type": _wants("a number"),
    "float_parsing": _wants("a number"),
    "int_type": _wants("a whole number"),
    "int_parsing": _wants("a whole number"),
    "int_from_float": _wants("a whole number"),
    "string_type": _wants("a text in quotes"),
    "tuple_type": _wants("a list in [ ]"),
    "model_type": _wants("a table of keys"),
    "model_attributes_type": _wants("a table of keys"),
    "value_error": lambda value, context, message: str(context.get("error", message)),
}


def first_of(troubles: list[Trouble]) -> list[Trouble]:
    """The first so many, with a last line that counts the rest."""
    rest = len(troubles) - MOST_TROUBLES
    if rest <= 0:
        return troubles
    last = Trouble(troubles[0].where.split(",")[0], f"and {rest} more troubles like these", ("mend these first",))
    return [*troubles[:MOST_TROUBLES], last]
