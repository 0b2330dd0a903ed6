"""What can be measured on a machine, what it costs in minutes, and what is refused."""
