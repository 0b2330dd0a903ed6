"""The job card, its store, and what can be read back from them."""
