"""Everyday questions with flat parameters and flat answers, for spreadsheets."""
