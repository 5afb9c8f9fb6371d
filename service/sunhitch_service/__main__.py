"""`python -m sunhitch_service` serves with settings from the environment."""

from .http.serve import run

if __name__ == "__main__":
    run()
