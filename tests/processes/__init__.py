"""Real processes on real folders: killed, crowded together, and without room."""
