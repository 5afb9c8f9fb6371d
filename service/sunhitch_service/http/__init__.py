"""HTTP around the engine: routes by table, strict input, problem documents, limits, one log."""
