"""Answers as text for people; the command line prints it, notebooks show it."""
