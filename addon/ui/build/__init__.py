"""A build in the panel."""
