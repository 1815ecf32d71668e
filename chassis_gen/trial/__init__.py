"""The test-fit loop: what was printed, what was measured, and what follows from it."""
