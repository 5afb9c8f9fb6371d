"""`/openapi.json`, and the documentation page made from it."""

from typing import Any

from litestar import Request, get
from litestar.handlers import HTTPRouteHandler
from litestar.response.base import ASGIResponse

from .requests import JSON, accepted, query_of


def schema_route(document: bytes) -> HTTPRouteHandler:
    """Route of the OpenAPI document."""

    @get("/openapi.json", include_in_schema=False)
    async def openapi(request: Request[Any, Any, Any]) -> ASGIResponse:
        query_of(request)
        media_type = accepted(request, [JSON])
        return ASGIResponse(body=document, media_type=media_type, status_code=200)

    return openapi
