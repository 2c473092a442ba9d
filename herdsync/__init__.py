"""herdsync: the work of a small registered dairy-goat herd, shared by two keepers without a network."""
