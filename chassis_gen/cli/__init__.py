"""The command line: each command reads its arguments, calls the pipeline and prints."""
