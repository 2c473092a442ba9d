"""The store: the farm's SQLite file, its lock, the device's key and marker, backup and restore."""
