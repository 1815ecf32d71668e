"""Features that several section kinds share: each module plans one and gives its cutters."""
