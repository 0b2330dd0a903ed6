"""The checkout as a whole: sizes, versions, locks, documents and what a built wheel holds."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

import chargewright
from chargewright.cli.main import main

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "src" / "chargewright"
FOLDERS = ("src", "tests", "docs", "examples", "scripts", "benchmarks", ".ci")
TEXT_SUFFIXES = {"", ".py", ".md", ".toml", ".json", ".sh", ".sql", ".lock", ".csv", ".txt", ".cir"}
MAX_LINES = 500

# Folders of one person's machine; the ellipsis in documents ("/home/...") is no path.
MACHINE_PATH = re.compile(r"(?<![\w.~-])(?:/(?:work|root|home|Users|opt)/\w|[A-Z]:\\Users\\)")
FENCE = re.compile(r"^```\w*\n(.*?)^```", re.MULTILINE | re.DOTALL)
COMMAND = re.compile(r"^(?:\$ )?(?:\./start|chargewright) +([a-z][\w-]*)", re.MULTILINE)
LINK = re.compile(r"\]\((?!\w+:)([^)#\s]+)")
PIN = re.compile(r"^([A-Za-z0-9._-]+)==(\S+)(?: ; (.*?))? \\$", re.MULTILINE)
CHANGELOG_VERSION = re.compile(r"^## (\S+)", re.MULTILINE)


def project() -> dict[str, object]:
    table: dict[str, object] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return table


def text_files() -> Iterator[Path]:
    yield from (p for p in ROOT.iterdir() if p.is_file() and p.suffix in TEXT_SUFFIXES)
    for folder in FOLDERS:
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts and path.suffix in TEXT_SUFFIXES:
                yield path


def documents() -> list[Path]:
    return sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def pins(lock: str) -> set[tuple[str, str, str | None]]:
    return {m.groups() for m in PIN.finditer((ROOT / lock).read_text())}  # type: ignore[misc]


def normal(name: str) -> str:
    """Return a distribution name in the index's normal form (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_no_python_file_is_too_long() -> None:
    long = {
        str(p.relative_to(ROOT)): count
        for p in text_files()
        if p.suffix == ".py"
        and (count := len(p.read_text(encoding="utf-8").splitlines())) > MAX_LINES
    }
    assert not long, f"split these, the limit is {MAX_LINES} lines: {long}"


@pytest.mark.parametrize("bad", ["see /" + "root/x", '"/' + 'home/ann"', "C:" + "\\Users\\ann"])
def test_machine_paths_are_recognised(bad: str) -> None:
    assert MACHINE_PATH.search(bad)


def test_no_file_names_a_path_of_one_machine() -> None:
    found = {
        str(p.relative_to(ROOT)): match.group()
        for p in text_files()
        if (match := MACHINE_PATH.search(p.read_text(encoding="utf-8")))
    }
    assert not found


def test_version_is_told_the_same_everywhere() -> None:
    newest = CHANGELOG_VERSION.search((ROOT / "CHANGELOG.md").read_text())
    assert newest is not None
    assert newest.group(1) == chargewright.__version__ == project()["version"]


def test_licence_is_there() -> None:
    text = (ROOT / "LICENSE").read_text()
    assert text.startswith("MIT License")
    assert "Chargewright contributors" in text
    assert project()["license"] == "MIT"


@pytest.mark.parametrize("name", ["start", "test", ".ci/run", "scripts/lock"])
def test_scripts_can_be_run(name: str) -> None:
    assert os.access(ROOT / name, os.X_OK)
    subprocess.run(["bash", "-n", ROOT / name], check=True)


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-test.lock"])
def test_locks_name_no_place(lock: str) -> None:
    text = (ROOT / lock).read_text()
    assert not re.search(
        r"https?:|file:|--(?:extra-)?index-url|--find-links|^-e", text, re.MULTILINE
    )


def test_locks_cover_what_is_declared() -> None:
    table = tomllib.loads((ROOT / "pyproject.toml").read_text())
    extras = table["project"]["optional-dependencies"]
    declared = table["project"]["dependencies"] + extras["setup"]
    for lock, wanted in (
        ("requirements.lock", declared),
        ("requirements-test.lock", declared + extras["test"]),
    ):
        names = {normal(name) for name, _, _ in pins(lock)}
        missing = {normal(re.split(r"[<>=!~ ;\[]", line)[0]) for line in wanted} - names
        assert not missing, f"{lock} lacks {missing}: run ./scripts/lock"


def test_tests_run_against_the_versions_that_users_get() -> None:
    assert len(pins("requirements.lock")) >= len(project()["dependencies"])  # type: ignore[arg-type]
    assert pins("requirements.lock") <= pins("requirements-test.lock")


def test_documents_name_only_commands_that_exist() -> None:
    assert isinstance(main, click.Group)
    for path in documents():
        for block in FENCE.findall(path.read_text(encoding="utf-8")):
            for command in COMMAND.findall(block):
                assert command in main.commands, f"{path.name} names `{command}`"


def test_links_in_documents_lead_somewhere() -> None:
    dead = [
        f"{path.name}: {target}"
        for path in documents()
        for target in LINK.findall(path.read_text(encoding="utf-8"))
        if not (path.parent / target).exists()
    ]
    assert not dead


@pytest.fixture(scope="module")
def wheel_names(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Build the wheel with the locked build tool, offline; return the names of its files."""
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = out.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


def test_wheel_holds_code_and_data(wheel_names: set[str]) -> None:
    here = {
        p.relative_to(ROOT / "src").as_posix()
        for p in PACKAGE.rglob("*")
        if p.is_file() and "__pycache__" not in p.parts
    }
    assert "chargewright/py.typed" in here
    assert here <= wheel_names


def test_wheel_holds_licence_and_nothing_beside_the_package(wheel_names: set[str]) -> None:
    info = f"chargewright-{chargewright.__version__}.dist-info/"
    assert info + "licenses/LICENSE" in wheel_names
    assert {name.split("/")[0] + "/" for name in wheel_names} == {"chargewright/", info}
