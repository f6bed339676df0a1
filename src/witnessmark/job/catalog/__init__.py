"""Woods, cutters and machines to start from: data files beside this one, each row with its source.

Every row says where it is from (``source``) and how sure that is (``verified``: seen, from memory, our own).
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import Field

from ..complaints import nearest
from ..models import Cutter, Job, Machine, Model


class Species(Model):
    """A wood at 12 % moisture content; None where no value is known. Each group has its own source."""

    name: str
    specific_gravity_ratio: float | None = Field(default=None, gt=0)
    moe_gpa: float | None = Field(default=None, gt=0)
    mor_mpa: float | None = Field(default=None, gt=0)
    compression_across_mpa: float | None = Field(default=None, gt=0)
    tension_across_mpa: float | None = Field(default=None, gt=0)
    shear_mpa: float | None = Field(default=None, gt=0)
    hardness_n: float | None = Field(default=None, gt=0)
    strength_source: str = ""
    strength_verified: str = ""
    elastic_radial_ratio: float | None = Field(default=None, gt=0)
    elastic_tangential_ratio: float | None = Field(default=None, gt=0)
    elastic_source: str = ""
    elastic_verified: str = ""
    shrink_radial_pct: float | None = Field(default=None, gt=0)
    shrink_tangential_pct: float | None = Field(default=None, gt=0)
    shrink_volume_pct: float | None = Field(default=None, gt=0)
    shrink_source: str = ""
    shrink_verified: str = ""
    change_radial_per_pct: float | None = Field(default=None, gt=0)
    change_tangential_per_pct: float | None = Field(default=None, gt=0)
    change_source: str = ""
    change_verified: str = ""


class ListedCutter(Model):
    """A cutter to start from."""

    cutter: Cutter
    source: str
    verified: str


class ListedMachine(Model):
    """A machine to start from."""

    machine: Machine
    source: str
    verified: str


class MagnetGrade(Model):
    """Remanence of magnets of one grade, from the least to the most, tesla at 20 degrees C."""

    name: str
    least_t: float = Field(gt=0)
    most_t: float = Field(gt=0)
    source: str
    verified: str


@cache
def grades() -> dict[str, MagnetGrade]:
    """Every grade of magnet by its name, ``"N42"``."""
    rows = [MagnetGrade.model_validate(row) for row in _rows("magnets", "grades")]
    return {row.name: row for row in rows}


@cache
def species() -> dict[str, Species]:
    """Every wood by its name, ``"cherry, black"``."""
    rows = [Species.model_validate(row) for row in _rows("species")]
    return {row.name: row for row in rows}


@cache
def cutters() -> dict[str, ListedCutter]:
    """Every cutter by its name, ``"flat 6"``."""
    rows = [ListedCutter.model_validate(row) for row in _rows("cutters")]
    return {row.cutter.name: row for row in rows}


@cache
def machines() -> dict[str, ListedMachine]:
    """Every machine by its name."""
    rows = [ListedMachine.model_validate(row) for row in _rows("machines")]
    return {row.machine.name: row for row in rows}


def nearest_species(name: str) -> str:
    """The known wood that a typed name most likely means, '' where none is like it.

    >>> nearest_species("Black Cherry"), nearest_species("oak, whit"), nearest_species("zzz")
    ('cherry, black', 'oak, white', '')
    """
    by_words = {_words(known): known for known in species()}
    return by_words.get(_words(name)) or by_words.get(nearest(_words(name), by_words, 0.75), "")


def unknown_woods(job: Job) -> tuple[str, ...]:
    """A line for each piece whose wood is not listed here: a plan can still be made, not its movement."""
    lines = []
    for piece in job.pieces:
        wood = piece.blank.species
        if wood not in species():
            like = nearest_species(wood)
            advice = f'did you mean "{like}"?' if like else "take the listed wood most like it"
            lines.append(f'{piece.name}: no values are listed for the wood "{wood[:60]}"; {advice}')
    return tuple(lines)


def _words(name: str) -> str:
    """The words of a name in the order of the alphabet, so that "black cherry" meets "cherry, black"."""
    return " ".join(sorted(name.casefold().replace(",", " ").split()))


def _rows(name: str, key: str = "") -> list[dict[str, Any]]:
    text = (files(__package__) / f"{name}.toml").read_text(encoding="utf-8")
    rows: list[dict[str, Any]] = tomllib.loads(text)[key or name]
    return rows
