"""One part: its shells, its body as solids, its studs, what it measures."""
