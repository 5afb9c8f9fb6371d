"""sunhitch."""
