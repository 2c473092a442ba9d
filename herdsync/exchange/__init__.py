"""Moving entries between laptops: sealed bundles, the carriers they travel on, pairing, watching."""
