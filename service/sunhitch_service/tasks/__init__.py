"""From an encoded request to an encoded answer, or to a problem; nothing here is HTTP."""
