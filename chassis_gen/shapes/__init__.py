"""Shapes: primitives and recipes as plain data, and the two kernels that turn them into solids."""
