"""The service: the workshop's jobs on every phone of the house, as JSON and as a small app."""
