"""The program's version, free of imports."""

__version__ = "0.1.0"
