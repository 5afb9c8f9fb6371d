"""Contract types: what is sent and what comes back, one module per domain."""
