"""Presets on the disk."""
