"""A farm that survives everything: many laptops in one process, driven by one seed, checked step by step."""
