"""What a piece's or cutter's name becomes in the name of a file, and which names none can be made of."""

from __future__ import annotations

import re

LONGEST = 60
_SIGNS_OF_PATHS = re.compile(r"[/\\\x00]|^\.")


def file_stem(name: str) -> str:
    """Small letters, figures and hyphens.

    >>> file_stem('my "Lid" 2'), file_stem("木")
    ('my-lid-2', 'part')
    """
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "part"


def is_name(name: str) -> bool:
    """Whether it can be printed on a bench sheet: 1 to 60 signs, not blank."""
    return bool(name.strip()) and name.isprintable() and len(name) <= LONGEST


def leads_elsewhere(name: str) -> bool:
    """Whether it would name another folder, or a hidden file, as part of a file's name."""
    return bool(_SIGNS_OF_PATHS.search(name))


def name_from(stem: str) -> str:
    """A name made of a file's: what cannot be printed or leads elsewhere goes, and what is too long."""
    kept = "".join(sign if sign.isprintable() and sign not in "/\\" else " " for sign in stem)
    return kept.strip().lstrip(".")[:LONGEST].strip() or "piece"
