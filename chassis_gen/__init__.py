"""Chassis generator: parametric inner frames for hand-held light and sound props in round tubes."""

__version__ = "0.1.0"
