"""What was made once and need not be made again, found by what it was made of and not by file times."""
