"""The least change of a job that is under way, or that fails."""
