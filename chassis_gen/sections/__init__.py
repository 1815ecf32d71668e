"""Section kinds: one module each, found by `registry`."""
