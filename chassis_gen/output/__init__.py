"""What a maker gets: meshes, exact solids, the fit report, pictures, and the folder that holds them."""
