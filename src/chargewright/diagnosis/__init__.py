"""What is likely at fault, what to check next, and why: belief, plan and explanation."""
