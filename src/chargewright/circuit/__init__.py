"""What is true between any two test points of a machine."""
