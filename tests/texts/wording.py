"""Every text the program's code can show, read out of the code itself."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import chargewright

SOURCE = Path(chargewright.__file__).parent
RAISED = frozenset(
    {
        "InputError", "MissingError", "ConflictError", "UnsafeCheckError", "StoreError",
        "ImpossibleReadingsError", "ReadingError", "Problem", "ValueError", "problem_json",
        "TooLarge",
    }
)  # fmt: skip
# Where a phone can meet an error. The rest is met by a programmer, on the command line or when
# the service starts; the command line is English.
MET = (
    "checks/catalogue.py", "checks/safety.py", "checks/word.py",
    "diagnosis/counter.py", "diagnosis/decisions.py", "diagnosis/inference.py",
    "diagnosis/question.py", "diagnosis/steps.py",
    "energy/acid.py", "energy/asked.py", "energy/budget.py", "energy/capacity.py",
    "energy/charge_plan.py", "energy/charge_state.py", "energy/choice.py", "energy/commute.py",
    "energy/cranking.py", "energy/drain.py", "energy/evidence.py", "energy/heating.py",
    "energy/loads.py", "energy/output.py", "energy/storage.py", "energy/wire.py",
    "jobs/asked_state.py",
    "jobs/card.py", "jobs/case.py", "jobs/codec.py", "jobs/database.py", "jobs/merge.py",
    "jobs/papers.py", "jobs/photos.py", "jobs/quantity_text.py", "jobs/reading.py",
    "jobs/reading_text.py", "jobs/reading_words.py", "jobs/rows.py", "jobs/shown.py",
    "jobs/store.py", "jobs/upgrades.py",
    "machine/causes.py", "machine/classes.py", "machine/conditioning.py", "machine/draw.py",
    "machine/fields.py", "machine/layout.py", "machine/prior.py", "machine/spec.py",
    "machine/speeds.py", "machine/winding.py",
    "meters/card.py", "meters/load.py", "meters/shown.py",
    "report/written.py", "simulation/faults.py", "simulation/run.py", "workbench.py",
    "texts/catalogue.py",
    "web/answers.py", "web/guard.py", "web/ledger.py", "web/own.py", "web/pairing.py",
    "web/problems.py", "web/routes_own.py", "web/routes_service.py", "web/routes_shown.py",
    "web/routes_work.py", "web/static.py", "web/strict.py", "web/would.py",
)  # fmt: skip
# Where texts are made that are shown and not raised.
TOLD = (
    "checks/safety.py",
    "checks/cost.py",
    "checks/modes.py",
    "meters/advice.py",
    "diagnosis/undecided.py",
    "diagnosis/story.py",
    "diagnosis/explain.py",
    "energy/budget.py",
    "energy/charge_plan.py",
    "energy/charge_state.py",
    "energy/choice.py",
    "energy/drain.py",
    "energy/health.py",
    "energy/storage.py",
    "jobs/refusal.py",
    "web/problems.py",
    "web/guard.py",
    "web/would.py",
)
PLACE = "\0"
# What is made of words and is none: queries, patterns, headers, lines of the log.
CODE = re.compile(r"^SELECT |\(\?|\||default-src|max-age|%[sr]|float \|")


def template(node: ast.expr) -> str | None:
    """Return a literal with a mark in each place to fill; None for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(
            str(one.value) if isinstance(one, ast.Constant) else PLACE for one in node.values
        )
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = template(node.left), template(node.right)
        return None if left is None or right is None else left + right
    return None


def raised() -> Iterator[tuple[str, str]]:
    """Yield file and template of every error a phone can meet."""
    for name in MET:
        for node in ast.walk(ast.parse((SOURCE / name).read_text(encoding="utf-8"))):
            if _named(node) in RAISED:
                assert isinstance(node, ast.Call)
                for argument in node.args:
                    text = template(argument)
                    if text is not None and " " in text:
                        yield name, text


def told() -> Iterator[tuple[str, str]]:
    """Yield file and template of every sentence made where it is shown and not raised."""
    for name in dict.fromkeys((*MET, *TOLD)):
        tree = ast.parse((SOURCE / name).read_text(encoding="utf-8"))
        silent = {id(inner) for node in ast.walk(tree) for inner in _silent(node)}
        inside = {
            id(part)
            for node in ast.walk(tree)
            if isinstance(node, ast.JoinedStr | ast.BinOp) and template(node) is not None
            for part in ast.walk(node)
            if part is not node
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.expr) and id(node) not in silent | inside:
                text = template(node)
                if text is not None and len(text.split()) >= 3 and not CODE.search(text):
                    yield name, text


def _silent(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what is written but not shown: docstrings, names of fields, what is raised."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    if _named(node) in RAISED | {"Field"}:
        yield from ast.walk(node)
    if isinstance(node, ast.Dict):
        yield from (inner for key in node.keys if key is not None for inner in ast.walk(key))
    if isinstance(node, ast.AnnAssign):
        yield from ast.walk(node.annotation)


def said_by_reports() -> Iterator[tuple[str, str]]:
    """Yield file and text of everything that goes through the report's one door."""
    for path in sorted((SOURCE / "report").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if _named(node) == "say":
                assert isinstance(node, ast.Call)
                text = template(node.args[0])
                if text is not None:
                    yield path.name, text


def _named(node: ast.AST) -> str:
    """Return the name of what is called; empty for anything else."""
    called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id
    return called or ""
