"""How a technician may work: the program, its ablations, habit, simple orders, an oracle."""
