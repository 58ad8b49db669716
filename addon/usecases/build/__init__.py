"""Bringing a build in, telling what it is, and its next version."""
