"""The presets in the panel."""
