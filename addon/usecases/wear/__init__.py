"""Putting a look on builds and taking it off."""
