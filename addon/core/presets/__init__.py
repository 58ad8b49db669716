"""Presets: their fields, their files, and how they travel."""
