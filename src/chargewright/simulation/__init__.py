"""What would it read? Any machine with any cause: every check, and the waveforms."""
