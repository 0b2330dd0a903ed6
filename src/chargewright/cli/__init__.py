"""The command line: translates words into calls and results into text."""

import os

# Matrices here are small: threads cost them more than they save, tenfold on a busy computer.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
