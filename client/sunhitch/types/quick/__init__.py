"""Flat questions and answers of `GET /v1/quick/…`, one module a topic."""
