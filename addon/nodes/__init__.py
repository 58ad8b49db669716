"""Node trees as code, and how they enter and leave materials."""
