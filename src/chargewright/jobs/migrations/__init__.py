"""Numbered migrations of the job store; a released one is never changed."""
