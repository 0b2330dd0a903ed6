"""The documents against the program: links, tests named, index, commands, and tables of data.

``tests/cli/test_docs.py`` holds docs/cli.md to the command line in both directions; here every
other document is held to what it names.
"""

from __future__ import annotations

import ast
import re
import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path

import click
import pytest

from chargewright.cli.main import main
from chargewright.machine.parameters import NAMES, PARAMETERS

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")])
IDS = [page.relative_to(ROOT).as_posix() for page in PAGES]

FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\]\((?!\w+:)([^)\s]+)\)")
HEADING = re.compile(r"^#+ +(.+?)\s*$", re.MULTILINE)
SPAN = re.compile(r"`([^`\n]+)`")
TEST = re.compile(r"`([\w/]+\.py)::(\w+)(?:::(\w+))?`")
FILE = re.compile(r"^(?:src|tests|benchmarks|examples|scripts)/[\w./-]+$")
CALL = re.compile(r"^(?:\$ )?(?:\./start|chargewright) (?! )(.+)$")  # two blanks: an explanation
OPTION = re.compile(r"^--?[a-zA-Z][\w-]*")


def prose(page: Path) -> str:
    """Return a page without its fenced blocks."""
    return FENCE.sub("", page.read_text(encoding="utf-8"))


def anchors(page: Path) -> set[str]:
    """Return the anchors of a page's headings, as code hosts make them."""
    titles = (title.lower().replace(" ", "-") for title in HEADING.findall(prose(page)))
    return {re.sub(r"[^\w-]", "", title) for title in titles}


@pytest.mark.parametrize("page", PAGES, ids=IDS)
def test_links_lead_to_files_and_headings(page: Path) -> None:
    for link in LINK.findall(prose(page)):
        target, _, anchor = link.partition("#")
        path = (page.parent / target).resolve() if target else page
        assert path.exists(), f"{link}: no such file"
        if anchor:
            assert anchor in anchors(path), f"{link}: no such heading"


@pytest.mark.parametrize("page", PAGES, ids=IDS)
def test_files_named_exist(page: Path) -> None:
    named = [span for span in SPAN.findall(prose(page)) if FILE.match(span)]
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_every_document_is_in_the_index() -> None:
    index = (DOCS / "README.md").read_text(encoding="utf-8")
    known = set(LINK.findall(index)) | set(SPAN.findall(index))
    here = {p.relative_to(DOCS).as_posix() for p in DOCS.rglob("*") if p.suffix in {".md", ".json"}}
    assert here - {"README.md"} - known == set()


@cache
def defined_in(path: Path) -> frozenset[tuple[str, str]]:
    """Return (class or empty, function) of every test in a file, read without running it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[tuple[str, str]] = set()
    for node in tree.body:
        group = node.name if isinstance(node, ast.ClassDef) else ""
        inner = node.body if isinstance(node, ast.ClassDef) else [node]
        found |= {(group, f.name) for f in inner if isinstance(f, ast.FunctionDef)}
    return frozenset(found)


def named_tests() -> list[tuple[str, str, str]]:
    """Return (file, class or empty, function) of the tests that docs/validation.md names."""
    text = (DOCS / "validation.md").read_text(encoding="utf-8")
    return [(file, a if b else "", b or a) for file, a, b in TEST.findall(text)]


def test_every_test_named_in_the_validation_exists() -> None:
    named = named_tests()
    assert len(named) > 150
    gone = [
        f"{file}::{function}"
        for file, group, function in named
        if not (ROOT / "tests" / file).exists()
        or not function.startswith("test_")
        or (group, function) not in defined_in(ROOT / "tests" / file)
    ]
    assert gone == []


def test_every_line_of_the_validation_has_a_mark_and_a_test() -> None:
    """Rows have six cells; the third holds marks of the legend, the fourth names a test."""
    text = (DOCS / "validation.md").read_text(encoding="utf-8")
    marks = set(re.findall(r"^\| \*\*(\w)\*\* \|", text, re.MULTILINE))
    assert marks == set("PDCWFSTM")
    rows = [line for line in text.splitlines() if "::test_" in line and line.startswith("|")]
    assert len(rows) > 100
    for row in rows:
        cells = [cell.strip() for cell in row.strip("|").split("|")]
        assert len(cells) == 6, row
        assert cells[2], row
        assert set(cells[2].split()) <= marks, row
        assert TEST.search(cells[3]), row


@pytest.mark.parametrize("room", ["circuit", "spice", "meters", "machine", "checks", "diagnosis"])
def test_no_test_file_of_the_model_is_left_out_of_the_validation(room: str) -> None:
    """Files about words and about reading data files need no outside truth."""
    about_words = {"test_document.py", "test_table.py", "test_load.py", "test_word.py"}
    named = {file for file, _, _ in named_tests()}
    here = {p.name for p in (ROOT / "tests" / room).glob("test_*.py")} - about_words
    assert {name for name in here if f"{room}/{name}" not in named} == set()


def calls(page: Path) -> list[str]:
    """Return what follows the program's name in a page, in fenced blocks and inline."""
    text = page.read_text(encoding="utf-8")
    lines = [line for block in FENCE.findall(text) for line in block.splitlines()]
    found = (CALL.match(line.strip()) for line in [*lines, *SPAN.findall(prose(page))])
    return [match.group(1) for match in found if match]


def command_of(words: list[str]) -> tuple[click.Command, list[str]]:
    """Return the command that words lead to, and the options among the rest."""
    command: click.Command = main
    rest = list(words)
    while rest and isinstance(command, click.Group) and not rest[0].startswith("-"):
        assert rest[0] in command.commands, f"no command {' '.join(words)!r}"
        command = command.commands[rest.pop(0)]
    return command, [match.group() for word in rest if (match := OPTION.match(word))]


def options_of(command: click.Command) -> set[str]:
    """Return every option of a command; help is everywhere, the version at the top."""
    given = {word for one in command.params for word in (*one.opts, *one.secondary_opts)}
    return given | {"-h", "--help", "--version"}


@pytest.mark.parametrize("page", PAGES, ids=IDS)
def test_commands_named_exist_with_their_options(page: Path) -> None:
    for call in calls(page):
        words = re.split(r" {2,}|  *[#>|]", call)[0].split()
        command, given = command_of(words)
        assert set(given) <= options_of(command), call


def all_options(command: click.Command) -> set[str]:
    """Return the options of a command and of all below it."""
    below = command.commands.values() if isinstance(command, click.Group) else ()
    return options_of(command).union(*(all_options(one) for one in below))


@pytest.mark.parametrize("page", sorted(DOCS.rglob("*.md")), ids=lambda page: page.name)
def test_options_named_alone_exist(page: Path) -> None:
    alone = [span for span in SPAN.findall(prose(page)) if OPTION.match(span)]
    assert {match.group() for s in alone if (match := OPTION.match(s))} <= all_options(main)


def rows_of(heading: str) -> dict[str, list[str]]:
    """Return the table rows below a heading of docs/model.md by the name in their first cell."""
    text = (DOCS / "model.md").read_text(encoding="utf-8")
    part = re.split(r"^#+ ", text.split(f" {heading}\n", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]
    rows = [line.strip("|").split("|") for line in part.splitlines() if line.startswith("| `")]
    return {row[0].strip().strip("`"): [cell.strip() for cell in row[1:]] for row in rows}


def data(name: str) -> dict[str, object]:
    text = files("chargewright.diagnosis").joinpath("data", name).read_text("utf-8")
    return tomllib.loads(text)


def test_model_errors_in_the_document_are_those_of_the_data() -> None:
    told = {name: (float(row[1]), float(row[2])) for name, row in rows_of("B4 Model error").items()}
    kept = {
        name: (row["absolute"], row["relative"])  # type: ignore[index]
        for name, row in data("model_error.toml").items()
    }
    assert told == kept


def test_prices_in_the_document_are_those_of_the_data() -> None:
    told = {name: float(row[0]) for name, row in rows_of("C1 Endings and what they cost").items()}
    assert told == data("costs.toml")


def test_every_parameter_is_in_the_glossary_with_its_reference_value() -> None:
    told: dict[str, float] = {}
    for name, row in rows_of("Parameters").items():
        stem = name.removesuffix("_a/b/c")
        legs = [stem] if stem == name else [f"{stem}_{leg}" for leg in "abc"]
        told |= dict.fromkeys(legs, float(row[0]))
    assert set(told) == set(NAMES)
    assert told == {p.name: pytest.approx(p.healthy, rel=1e-5) for p in PARAMETERS}
