"""From objects and polygons to the light on every cell."""
