"""A job as a document: one page for the customer, two for the workshop, and data for programs."""
