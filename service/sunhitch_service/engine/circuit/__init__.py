"""The build as a graph of sources, conductors and devices, and what follows for its fuses."""
