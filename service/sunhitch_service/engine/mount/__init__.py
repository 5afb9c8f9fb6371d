"""Whether a panel stays on the roof: loads, statics, capacities, and what would help."""
