"""``docs/cli.md`` names every command, option, key, status and variable, and no others."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from cli.conftest import Run

from chargewright.cli import program
from chargewright.cli.main import main
from chargewright.cli.state_words import SETTINGS, parse_state
from chargewright.cli.typed import WORDS

TEXT = (Path(__file__).parents[2] / "docs" / "cli.md").read_text(encoding="utf-8")


def commands(group: click.Group, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for name, command in group.commands.items():
        yield (*path, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))


PATHS = list(commands(main))


def command_at(path: tuple[str, ...]) -> click.Command:
    found: click.Command = main
    for name in path:
        assert isinstance(found, click.Group)
        found = found.commands[name]
    return found


@pytest.mark.parametrize("path", PATHS, ids=" ".join)
def test_every_command_has_help_and_a_place_in_the_document(cw: Run, path: tuple[str, ...]) -> None:
    done = cw(*path, "--help")
    assert done.exit_code == 0
    assert len(done.output.splitlines()) > 3
    assert re.search(rf"^chargewright {' '.join(path)}\b", TEXT, re.MULTILINE)
    for option in command_at(path).params:
        if isinstance(option, click.Option):
            assert option.help, option.name
            for word in option.opts:
                assert f"`{word}" in TEXT, f"{word} of {' '.join(path)}"


def test_the_document_names_no_option_that_does_not_exist() -> None:
    options = [p for path in PATHS for p in command_at(path).params]
    known = {word for p in options for word in (*p.opts, *p.secondary_opts)}
    known |= {"--help", "-h", "--version"}
    found = set(re.findall(r"(?<![\w-])--?[a-z][a-z-]*\b", TEXT))
    assert found - known == set()


def test_every_key_of_the_bench_is_described() -> None:
    keys = {word for word in WORDS if len(word) == 1} - {"h"}
    for key in keys:
        assert f"`{key}`" in TEXT


def test_the_states_of_the_document_are_understood() -> None:
    sentence = TEXT[TEXT.index("How the machine stands,") : TEXT.index("Nothing typed: engine off")]
    words = re.findall(r"`([^`]+)`", sentence)
    assert len(words) > 15
    for word in words:
        assert parse_state(word), word
    opposites = {"engine off", "running", "key off", "lights off", "plug in", "battery on", "cold"}
    assert set(SETTINGS) - set(words) == opposites


def test_every_status_and_variable_is_described() -> None:
    statuses = {
        program.CLOSED_PIPE,
        program.BAD_INPUT,
        program.UNSAFE,
        program.STORE,
        program.DEFECT,
        program.INTERRUPTED,
    }
    for status in statuses:
        assert f"\n| {status} |" in TEXT
    source = Path(program.__file__).parents[1]
    named = {
        name
        for path in source.rglob("*.py")
        for name in re.findall(r"\bCHARGEWRIGHT_[A-Z]+\b", path.read_text(encoding="utf-8"))
    }
    assert named
    for name in named:
        assert f"`{name}`" in TEXT
