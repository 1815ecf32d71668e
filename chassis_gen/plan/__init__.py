"""The plan: everything that numbers decide, before any solid is made."""
