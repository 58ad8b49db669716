"""What shots read as, and their dials on the timeline."""
