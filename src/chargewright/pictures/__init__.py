"""Pictures as SVG text, drawn from the circuit and from what the program found."""
