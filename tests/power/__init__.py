"""The power cut, storage that fails, media pulled: below SQLite, at any write, sync, rename or new file."""
