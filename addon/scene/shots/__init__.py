"""Cameras, plates and keys."""
