"""The framework's compression, for answers that are small and not compressed yet."""

from litestar.datastructures import Headers
from litestar.middleware.compression import CompressionMiddleware
from litestar.types import Message, Scope, Send

from sunhitch_service.tasks.media_types import NDJSON

from .requests import takes_gzip

_LEFT = {(b"content-encoding", b"gzip"), (b"content-type", NDJSON.encode())}


class Compression(CompressionMiddleware):
    """Leaves alone what is compressed, and lines, which go out one by one."""

    def create_compression_send_wrapper(
        self, send: Send, compression_encoding: str, scope: Scope
    ) -> Send:
        """Choose by the headers of the answer; the framework overlooks that `q=0` is a no."""
        if not takes_gzip(Headers.from_scope(scope)):
            return send
        chosen = compressing = super().create_compression_send_wrapper(
            send, compression_encoding, scope
        )

        async def choosing(message: Message) -> None:
            nonlocal chosen
            if message["type"] == "http.response.start":
                left = any((k.lower(), v) in _LEFT for k, v in message["headers"])
                chosen = send if left else compressing
            await chosen(message)

        return choosing
