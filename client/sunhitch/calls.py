"""The two ways to ask, which decide whether a call gives an answer or a coroutine."""


class Waiting:
    """Whoever asks and waits for the answer."""


class InLoop:
    """Whoever asks in an event loop, where answers are awaited."""
