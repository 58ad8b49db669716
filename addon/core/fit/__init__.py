"""The fit: what each brick would do, and what all of them can do together."""
