"""Many builds at once: what is up to date is left alone, what changed is said, and one that fails stops no other."""
