"""Lettering: from a font file and a text to resolved outlines; nothing here knows of a build."""
