"""What README and docs tell people to type can be typed: verbs, options and make targets all exist."""

from __future__ import annotations

import ast
import contextlib
import inspect
import io
import re
import shlex
from functools import cache
from pathlib import Path

import pytest

from witnessmark.cli.main import main, parser

ROOT = Path(__file__).parents[2]
DOCS = ("README.md", "docs/using.md", "docs/proof.md", "docs/limits.md", "CONTRIBUTING.md")
VERBS = (
    *("look", "new", "check", "plan", "program", "prove", "sheet", "demo"),
    *("box", "boards", "layers", "fit", "latch"),
    *("find", "restart", "mishap", "work", "log"),
)
PROGRAM = re.compile(r"^(?:\S*/)?witnessmark$")


def fenced(text: str) -> list[str]:
    """The lines inside fenced blocks, comments taken off."""
    blocks = re.findall(r"^```[^\n]*\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    return [line.split(" #")[0].strip() for block in blocks for line in block.splitlines()]


def spans(text: str) -> list[str]:
    """What stands between single backticks, line ends within it taken for spaces."""
    rest = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    return [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", rest)]


def commands(doc: str) -> list[list[str]]:
    """Every ``witnessmark ...`` that a document shows, as words without the program's own name."""
    text = (ROOT / doc).read_text(encoding="utf-8")
    shown = [shlex.split(line) for line in (*fenced(text), *spans(text)) if "witnessmark" in line]
    return [words[1:] for words in shown if len(words) > 1 and PROGRAM.match(words[0])]


SHOWN = [(doc, words) for doc in DOCS for words in commands(doc)]


@cache
def options_of(verb: str) -> frozenset[str]:
    """The options that ``witnessmark VERB --help`` names."""
    with contextlib.redirect_stdout(io.StringIO()) as out, pytest.raises(SystemExit) as stop:
        main([verb, "--help"])
    assert stop.value.code == 0
    return frozenset(re.findall(r"(?<![\w-])--[a-z][a-z-]*", out.getvalue()))


def test_the_documents_show_commands() -> None:
    """The search finds what it is to judge: the first question in both, and every verb but demo in using.md."""
    assert any(words[0] == "look" and "--stick-out" in words for words in commands("README.md"))
    assert {words[0] for words in commands("docs/using.md")} >= set(VERBS) - {"demo"}


@pytest.mark.parametrize(("doc", "words"), SHOWN, ids=lambda part: part if isinstance(part, str) else "-".join(part))
def test_every_command_shown_is_understood(doc: str, words: list[str]) -> None:
    """Its verb has a help, that help names each option shown, and the words as shown are accepted."""
    assert words[0] in VERBS, doc
    assert {word.split("=")[0] for word in words if word.startswith("--")} <= options_of(words[0]), doc
    if len(words) > 1:
        assert parser().parse_args(words).verb == words[0]


def test_every_option_told_in_a_section_belongs_to_its_verbs() -> None:
    """In using.md a section is headed by its verbs: each option in it is in the help of one of them."""
    text = (ROOT / "docs" / "using.md").read_text(encoding="utf-8")
    told = 0
    for part in re.split(r"^## ", text, flags=re.MULTILINE)[1:]:
        head, body = part.split("\n", 1)
        verbs = [verb for verb in head.split(", ") if verb in VERBS]
        known = frozenset().union(*(options_of(verb) for verb in verbs))
        options = {found for span in spans(body) for found in re.findall(r"(?<![\w-])--[a-z][a-z-]*", span)}
        assert options <= known, head
        told += len(options)
    assert told >= 10


def test_every_make_target_shown_exists() -> None:
    """``make WORD`` in README and CONTRIBUTING names a target of the Makefile."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z][\w-]*)\s*:(?!=)", makefile, flags=re.MULTILINE))
    for doc in ("README.md", "CONTRIBUTING.md"):
        text = (ROOT / doc).read_text(encoding="utf-8")
        shown = [line.split() for line in (*fenced(text), *spans(text)) if line.startswith("make ")]
        assert shown
        assert {words[1] for words in shown} <= targets


def test_every_link_between_the_documents_leads_somewhere() -> None:
    """A relative link or picture in README, CONTRIBUTING or docs is a file of the project."""
    for path in (ROOT / "README.md", ROOT / "CONTRIBUTING.md", *(ROOT / "docs").rglob("*.md")):
        for link in re.findall(r"\]\(([^)\s]+)\)", path.read_text(encoding="utf-8")):
            if not re.match(r"[a-z]+:|#", link):
                assert (path.parent / link.split("#")[0]).exists(), f"{path.name}: {link}"


def test_the_verbs_called_from_python_take_what_is_shown() -> None:
    """Each name that the Python block of using.md imports is there, and takes the arguments that it is given."""
    text = (ROOT / "docs" / "using.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```python\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    tree = ast.parse(block)
    imports = [line for line in tree.body if isinstance(line, ast.ImportFrom)]
    names: dict[str, object] = {}
    exec(compile(ast.Module(imports, []), "using.md", "exec"), names)
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
    assert {call.func.id for call in calls} >= {"look", "plan", "program", "prove"}  # type: ignore[attr-defined]
    for call in calls:
        takes = inspect.signature(names[call.func.id])  # type: ignore[attr-defined,arg-type]
        takes.bind(*call.args, **{word.arg: word.value for word in call.keywords if word.arg})
