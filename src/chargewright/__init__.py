"""Finds the fault in a small vehicle's charging system from a few meter readings."""

from __future__ import annotations

__version__ = "0.1.0"

__all__ = ["__version__"]
