"""The words of the bench sheet. Text from the job is cleaned, never trusted as markup."""

from __future__ import annotations

import re
import unicodedata

# Common practice, no source; the machine's manual, codes and licensed practice come first.
CAUTIONS: tuple[tuple[str, str], ...] = (
    ("Eyes", "Safety glasses or a face shield, for everyone in the room."),
    ("Ears", "Hearing protection: a router in hardwood is loud for as long as these programs run."),
    ("Dust", "Extract at the cutter; where the dust shoe is off, wear a mask made for fine dust."),
    (
        "Spinning cutter",
        "Hands, sleeves, hair and cords stay out of the travel. Change cutters with the plug pulled.",
    ),
    ("Adhesive fumes", "Use little instant glue, air the room, keep your face out of the vapour."),
    ("Fire", "Never leave it running alone. Smoke or a squeal: stop. Look into the dust bag before you lock up."),
)
FIRST = (
    "The machine's manual, local codes and licensed practice come before this sheet. The proof knows the job as it "
    "is written; it cannot see a wrong stick-out, a loose clamp or a blank put down the wrong way round. Stand by "
    "the stop."
)
AT_THE_MACHINE = "Glasses on, ears covered, dust drawn off. Hand at the stop for the first minutes of every program."
PULL_TEST = (
    "Your tape's pull test, once: hold a block of 20 cm2 down as you hold the work, pull it straight up with a "
    "luggage scale, thrice, then sideways; the least N by 20 goes into job.toml, [holding]; nobody publishes it."
)
NOT_PROVEN = "NOT PROVEN: the proof failed or has not been run. Do not cut from this sheet."
VALID_BY_HEADER = (
    "It is valid for these files only: the fingerprint in a file's header must be the one printed with it here."
)
VALID_BARE = (
    "It is valid for these files only. The controller takes no comments, so the files carry no fingerprint: copy "
    "them from out/programs after the proof, and change nothing in them."
)

LONGEST_RUN = 32  # letters without a space before a line may break
SCRAP_CATEGORIES = ("Cc", "Cf", "Cs", "Co")  # control, format (with the signs that turn text round), private use


def clean(text: str, longest: int = 400) -> str:
    """Text fit to print: no control or direction signs, one space between words, long runs breakable, not endless."""
    kept = "".join(" " if sign in "\n\r\t" else sign for sign in text)
    kept = "".join(sign for sign in kept if unicodedata.category(sign) not in SCRAP_CATEGORIES)
    kept = re.sub(r"\s+", " ", kept).strip()
    if len(kept) > longest:
        kept = kept[: longest - 3] + "..."
    return re.sub(rf"(\S{{{LONGEST_RUN}}})(?=\S)", "\\1\u200b", kept)


def clean_line(text: str) -> str:
    """A line of the proof's summary: its own spacing is kept."""
    plain = "".join(sign for sign in text.rstrip() if unicodedata.category(sign) not in SCRAP_CATEGORIES)
    return re.sub(rf"(\S{{{LONGEST_RUN}}})(?=\S)", "\\1\u200b", plain[:400])


def mm(value_mm: float, decimals: int = 1) -> str:
    """A length as it stands on the sheet: never "-0.0"."""
    shown = f"{value_mm:.{decimals}f}"
    return shown[1:] if shown.startswith("-") and float(shown) == 0 else shown


def minutes(value_minutes: float) -> str:
    """Whole minutes, hours from sixty on: "42 min", "1 h 05"."""
    whole = max(1, round(value_minutes)) if value_minutes > 0 else 0
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d}"
