"""A workshop of simulated technicians and machines that are not the model's own."""
