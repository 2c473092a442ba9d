"""Tests of what leaves and enters the farm on paper and in files."""
