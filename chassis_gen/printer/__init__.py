"""What is measured on a printer: the gauge piece, its readings, and what they say."""
