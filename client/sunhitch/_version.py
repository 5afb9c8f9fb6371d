"""Version of the client, the service and the contract examples, released together."""

__version__ = "0.2.0"
