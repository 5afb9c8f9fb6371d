"""Complete requests of an invented job, a mobile library van; also test input."""
