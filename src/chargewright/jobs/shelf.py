"""Populations kept on disk, so that the second look at a machine costs no circuit solving.

A shelf is a folder of files, one per population, named by a hash of everything that made it:
machine, hypotheses, version and code of the model, seed and the readings learned from. It is
only a cache: any file may be deleted at any time, and a damaged one is ignored.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import zipfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from chargewright.diagnosis.belief import Belief, combine, weigh
from chargewright.diagnosis.population import Population, name_of, size_of
from chargewright.diagnosis.predict import Predictions
from chargewright.diagnosis.question import Answer
from chargewright.machine.model import Machine
from chargewright.machine.prior import Hypothesis
from chargewright.version import __version__

MOST_FILES = 10  # about 50 MB each
SHELF_VARIABLE = "CHARGEWRIGHT_CACHE"


def default_folder() -> Path | None:
    """Return the folder the environment names, else the user's cache; None for ``off``."""
    named = os.environ.get(SHELF_VARIABLE)
    if named is not None:
        return None if named in ("", "off") else Path(named)
    base = os.environ.get("XDG_CACHE_HOME") or "~/.cache"
    try:
        return Path(base).expanduser() / "chargewright"
    except RuntimeError:
        return None


@cache
def model_fingerprint() -> str:
    """Return a hash of the model's own code: a population made by other code is not fetched."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for room in ("machine", "circuit", "meters", "diagnosis"):
        for path in sorted((package / room).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()


class Shelf:
    """Populations in a folder. Every failure to read or write is only a miss."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def name(
        self,
        machine: Machine,
        hypotheses: Sequence[Hypothesis],
        seed: int,
        answers: Sequence[Answer],
    ) -> str:
        """Return the file name of a population that has learned from ``answers``."""
        shares = [(name_of(h), size_of(h), f"{h.share:.12g}") for h in hypotheses]
        text = repr((__version__, model_fingerprint(), machine, shares, seed, tuple(answers)))
        return hashlib.sha256(text.encode()).hexdigest()[:32] + ".npz"

    def get(
        self,
        name: str,
        machine: Machine,
        hypotheses: Sequence[Hypothesis],
        answers: Sequence[Answer],
    ) -> Belief | None:
        """Return a kept population weighed by its answers, or None."""
        path = self.folder / name
        try:
            with np.load(path, allow_pickle=False) as file:
                arrays = {key: file[key] for key in file.files}
        except (OSError, ValueError, KeyError, zipfile.BadZipFile, EOFError):
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
        try:
            words = json.loads(str(arrays["words"]))
            predictions = Predictions(machine.layout, arrays["params"])
            predictions.stored = {
                key: arrays[f"p{number}"] for number, key in enumerate(words["keys"])
            }
            population = Population(
                machine=machine,
                hypotheses=tuple(hypotheses),
                member=arrays["member"].astype(np.intp),
                z=arrays["z"].astype(np.float64),
                params=arrays["params"],
                log_base=arrays["log_base"],
                absorbed=tuple(frozenset(ids) for ids in words["absorbed"]),
                predictions=predictions,
            )
            return weigh(population, combine(answers), arrays["logs"])
        except (KeyError, ValueError, TypeError):
            return None

    def put(self, name: str, belief: Belief) -> None:
        """Keep a belief's population and log-likelihoods; the oldest beyond ``MOST_FILES`` go."""
        population = belief.population
        kept = population.predictions.texts()
        words = {"keys": list(kept), "absorbed": [sorted(ids) for ids in population.absorbed]}
        arrays = {f"p{number}": rows for number, rows in enumerate(kept.values())}
        arrays |= {
            "words": np.array(json.dumps(words)),
            "member": population.member.astype(np.int32),
            "z": population.z.astype(np.float32),
            "params": population.params,
            "log_base": population.log_base,
            "logs": belief.log_likelihood,
        }
        draft = self.folder / f".{name}.{secrets.token_hex(4)}"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with draft.open("wb") as file:
                np.savez(file, **arrays)  # type: ignore[arg-type]
            os.replace(draft, self.folder / name)
            files = sorted(self.folder.glob("*.npz"), key=lambda path: path.stat().st_mtime)
            for old in files[:-MOST_FILES]:
                old.unlink(missing_ok=True)
        except OSError:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)
