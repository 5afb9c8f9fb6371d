"""Every rule once: its table of codes, and one function per code that gives a check."""
