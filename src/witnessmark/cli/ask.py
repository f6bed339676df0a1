"""The questions of ``new`` at a terminal: what a shape and six sizes leave open, asked until it can be used."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import Any

from witnessmark.job.errors import Refusal, Trouble

REST = "="  # takes what is shown for the rest of a group


class Terminal:
    """Where questions are put; ``aside``: on standard error, so that standard output carries the JSON alone."""

    def __init__(self, aside: bool) -> None:
        self.aside = aside

    def say(self, text: str) -> None:
        print(text, file=sys.stderr if self.aside else sys.stdout, flush=True)

    def line(self, prompt: str) -> str:
        if not self.aside:
            return input(prompt).strip()
        print(prompt, end="", file=sys.stderr, flush=True)
        return input().strip()


def ask_all(job: Any, terminal: Terminal) -> tuple[Any, dict[str, str]]:
    """The job with every question answered, and what was typed by key; refused where the input closes before.

    Answers that do not go together are told, and all is asked again with them in the brackets.
    """
    from witnessmark.job.files import job_from_text
    from witnessmark.job.rewrite import new_job_text
    from witnessmark.verbs.asked import questions

    typed: dict[str, str] = {}
    try:
        terminal.say(
            "Sizes may carry their unit ('1/4 in', '80 in/min'). Enter takes the value in brackets; = takes all that "
            "are left of the group.\n"
        )
        while True:
            before = job
            job = _ask_round(questions(job), job, typed, terminal)
            try:
                job_from_text(new_job_text(job))
                return job, typed
            except Refusal as apart:
                if job == before:  # nothing was answered anew: it lies with what was given
                    raise
                terminal.say(f"\n{apart}\nThese do not go together. Once more; Enter keeps what you answered.\n")
    except EOFError:
        terminal.say("")
        closed = "the input closed before every question was answered; no folder is made (--yes takes the defaults)"
        raise Refusal(Trouble("new", closed)) from None


def _ask_round(asked: Iterable[Any], job: Any, typed: dict[str, str], terminal: Terminal) -> Any:
    """Every question once, a heading over each group."""
    group, taken = "", ""
    for question in asked:
        if question.group == taken:
            continue
        if question.group != group:
            group = question.group
            terminal.say(f"\n{group}")
        after = _ask(question, job, typed, terminal)
        if after is None:
            taken = group
        else:
            job = after
    return job


def _ask(question: Any, job: Any, typed: dict[str, str], terminal: Terminal) -> Any | None:
    """The job with the answer in it, asked until it can be used; nothing typed keeps the value shown.

    None: what is shown is to be taken for the rest of the group.
    """
    from witnessmark.verbs.asked import answered

    while True:
        try:
            text = terminal.line(f"{question.words} [{question.shown}]: ")
            if not text:
                return job
            if text == REST:
                return None
            job = answered(job, {question.key: float(text) if _is_number(text) else text})
        except ValueError as wrong:
            terminal.say(f"  {_reason(wrong)}")
            continue
        typed[question.key] = text
        return job


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _reason(wrong: ValueError) -> str:
    """What is wrong with an answer, in words."""
    from pydantic import ValidationError

    from witnessmark.job.complaints import troubles_of
    from witnessmark.job.models import Job

    if isinstance(wrong, UnicodeError):
        return "that cannot be read: type it again"
    what = troubles_of(wrong, Job, "")[0].what if isinstance(wrong, ValidationError) else str(wrong)
    return f"that {what}" if what.startswith("is ") else what
