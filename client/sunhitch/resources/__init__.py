"""Methods of the clients, by topic; a client inherits them and carries their calls."""
