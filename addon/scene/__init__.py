"""Adapters between Blender's data and the core's arrays."""
