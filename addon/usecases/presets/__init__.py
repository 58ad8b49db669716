"""The library of presets."""
