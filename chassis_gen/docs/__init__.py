"""Reference pages, with their pictures and the build that they show."""
