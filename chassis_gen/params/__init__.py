"""Parameter files: models, reading with located errors, quantities with units, and the workspace."""
