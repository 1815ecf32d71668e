"""Electrics: currents, drops, loading, runtime and temperatures of a planned build; numbers only, no kernel."""
