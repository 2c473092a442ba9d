"""What leaves and enters the farm on paper and in files: values in, bytes out. Touches no disk."""
