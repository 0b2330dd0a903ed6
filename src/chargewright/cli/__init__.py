"""The command line: translates words into calls and results into text."""
