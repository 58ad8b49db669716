"""The shots in the panel."""
