"""Bought components: model, kinds, generic catalogue and the maker's own part files."""
