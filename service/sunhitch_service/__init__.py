"""The service: a pure engine, drawings of its results, and HTTP around both."""
