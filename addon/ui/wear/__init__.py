"""The look in the panel."""
