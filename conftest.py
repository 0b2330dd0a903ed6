"""Settings for every test and doctest."""

from __future__ import annotations

import os
from pathlib import Path

from hypothesis import settings

# Read when the battery witness is imported: without it, it asks on the terminal and calls home.
os.environ.setdefault("PYBAMM_DISABLE_TELEMETRY", "true")

# Jobs that whoever runs the tests has closed must not teach the diagnosis under test.
os.environ["CHARGEWRIGHT_STORE"] = str(Path(__file__).parent / "no-such-store.sqlite")

# Migration scripts run only inside the migration tool: importing them for doctests fails.
collect_ignore_glob = ["*/migrations/*"]

# "ci" draws the same examples every time, so a red run can be repeated; "search" looks further:
# HYPOTHESIS_PROFILE=search ./test
settings.register_profile("ci", derandomize=True, max_examples=60, deadline=None)
settings.register_profile("search", max_examples=600, deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))
