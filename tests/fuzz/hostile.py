"""Requests that no service should trip over: broken bodies, wrong methods, headers and paths.

Choices are throws of the caller's dice, as in `plausible`.
"""

import copy
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote

import msgspec
from plausible import Dice, example, example_text, parent_of

from sunhitch.codec import MalformedBody, decode_strict
from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch.questions import QUESTIONS

JSON = "application/json"
NDJSON = "application/x-ndjson"
_LONG = 5000

VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, -0.0, 1.5, 2**31, 2**53 + 1, 2**63, 2**64, -(2**63) - 1),
    *(1e308, -1e308, 5e-324, 10**40, "", "0", "1.5", "nan", "x" * _LONG),
    *("\0", "\u202e\u0301", "\U0001f690", "~1/~0", "../../etc", "{{7*7}}", "<script>"),
    *([], {}, [[]], [None], [[[[0]]]], {"": 0}, {"kind": "x"}, {"kind": 1}, [1, "2", {}]),
)
"""What a field is replaced by."""

TOKENS: tuple[bytes, ...] = (
    *(b"NaN", b"Infinity", b"-Infinity", b"1e999", b"-1e999", b"1" * _LONG, b"0." + b"0" * _LONG),
    *(b"01", b"+1", b".5", b"1.", b"0x10", b"1_000", b"'x'", b"undefined", b"None", b"True"),
    *(
        b'"\\ud800"',
        b'"\\u0000"',
        b'"\xff"',
        b'"\xc0\xaf"',
        b'"\xed\xa0\x80"',
        b'"\x01"',
        b'"\\x41"',
    ),
    *(b"[" * 50, b"[" * _LONG + b"]" * _LONG, b'{"a":' * _LONG + b"1" + b"}" * _LONG),
    *(b"/* */1", b"1,", b",", b":", b"{", b"}", b"]", b"\xef\xbb\xbf1", b"\x00", b""),
)
"""What a value's text is replaced by: not JSON, or JSON at the edge of what it can say."""

Path = tuple[str | int, ...]
_NESTED = (dict, list)


@dataclass(frozen=True)
class Hostile:
    """One request over HTTP that deserves a problem document."""

    method: str
    path: str
    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict[str, str])


def _paths(value: dict[str, Any] | list[Any], path: Path = ()) -> list[Path]:
    """Every place in a decoded body but the whole."""
    found: list[Path] = []
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
        found.append((*path, key))
        if isinstance(inner, _NESTED):
            found += _paths(inner, (*path, key))
    return found


def _picked(body: Any, dice: Dice) -> Path:
    found = _paths(body)
    return found[dice(len(found))]


def _replaced(body: Any, dice: Dice) -> None:
    path = _picked(body, dice)
    parent_of(body, path)[path[-1]] = copy.deepcopy(VALUES[dice(len(VALUES))])


def _deleted(body: Any, dice: Dice) -> None:
    path = _picked(body, dice)
    del parent_of(body, path)[path[-1]]


def _surplus(body: Any, dice: Dice) -> None:
    path = _picked(body, dice)
    parent = parent_of(body, path)
    if isinstance(parent, dict):
        parent[str(VALUES[dice(len(VALUES))])] = 1
    else:
        parent.extend(copy.deepcopy(parent[:1]) * (10 ** dice(4)))


def _moved(body: Any, dice: Dice) -> None:
    path, other = _picked(body, dice), _picked(body, dice)
    taken = json.loads(json.dumps(parent_of(body, path)[path[-1]]))
    parent_of(body, other)[other[-1]] = taken


STRUCTURAL: tuple[Callable[[Any, Dice], None], ...] = (_replaced, _deleted, _surplus, _moved)
"""Changes to a decoded body."""


def changed(operation: Operation[Any, Any], dice: Dice) -> bytes:
    """The example after one to three changes of its structure; it may still be right."""
    body = example(operation)
    for _ in range(1 + dice(3)):
        if body:
            STRUCTURAL[dice(len(STRUCTURAL))](body, dice)
    return json.dumps(body).encode()


def _other_token(text: bytes, dice: Dice) -> bytes:
    """One value's text is replaced; a marker finds its place."""
    body = msgspec.json.decode(text)
    path = _picked(body, dice)
    parent_of(body, path)[path[-1]] = "\u2603"
    return json.dumps(body).encode().replace(b'"\\u2603"', TOKENS[dice(len(TOKENS))], 1)


def _twice(text: bytes, dice: Dice) -> bytes:
    """The first key is given a second time, with an impossible value."""
    key = next(iter(msgspec.json.decode(text)))
    return text.rstrip()[:-1] + b"," + json.dumps(key).encode() + b":" + b"[[1]]}"


def _cut(text: bytes, dice: Dice) -> bytes:
    return text.rstrip()[: dice(len(text.rstrip()))]


def _flipped(text: bytes, dice: Dice) -> bytes:
    flipped = bytearray(text)
    for _ in range(1 + dice(4)):
        flipped[dice(len(flipped))] = dice(256)
    return bytes(flipped)


def _repeated(text: bytes, dice: Dice) -> bytes:
    start = dice(len(text))
    return text[:start] + text[start : start + 1 + dice(200)] * 2 + text[start:]


def _encoded_otherwise(text: bytes, dice: Dice) -> bytes:
    return text.decode().encode(("utf-16", "utf-32", "utf-8-sig", "utf-16-le")[dice(4)])


def _another_kind(text: bytes, dice: Dice) -> bytes:
    return (b"null", b"[]", b'""', b"0", b"true", b"[" + text + b"]", text + text)[dice(7)]


def _bare_token(_text: bytes, dice: Dice) -> bytes:
    return TOKENS[dice(len(TOKENS))]


TEXTUAL: tuple[Callable[[bytes, Dice], bytes], ...] = (
    *(_other_token, _twice, _cut, _flipped, _repeated, _encoded_otherwise),
    *(_another_kind, _bare_token),
)
"""Changes to the text of a body."""


def malformed(operation: Operation[Any, Any], dice: Dice) -> bytes:
    """A body that is refused for certain, though not for an obvious reason."""
    text = changed(operation, dice)
    if dice(2):
        text = TEXTUAL[dice(len(TEXTUAL))](example_text(operation.name), dice)
    return _refused(operation, text)


def _refused(operation: Operation[Any, Any], text: bytes) -> bytes:
    """A body as it is if it does not fit, else with a field too many."""
    try:
        decode_strict(text, operation.request)
    except MalformedBody:
        return text
    return text.rstrip()[:-1] + b',"\\u00bf":1}'


def _broken_body(dice: Dice) -> Hostile:
    operation = OPERATIONS[dice(len(OPERATIONS))]
    return _post(operation.path, malformed(operation, dice))


def _broken_lines(dice: Dice) -> Hostile:
    operation = OPERATIONS[dice(len(OPERATIONS))]
    lines = [_broken_line(operation, dice) for _ in range(1 + dice(4))]
    return _post(f"/v1/batch/{operation.name}", b"\n".join(lines), {"Content-Type": NDJSON})


def _broken_line(operation: Operation[Any, Any], dice: Dice) -> bytes:
    """In one line, which by itself may mend what a break in a string had spoilt."""
    return _refused(operation, malformed(operation, dice).replace(b"\n", b" "))


def _wrong_media(dice: Dice) -> Hostile:
    operation = OPERATIONS[dice(len(OPERATIONS))]
    given = (
        *("", "text/plain", "application/json/", "application/xml", "multipart/form-data"),
        *(";", "application/*", "\u00e9", "x" * _LONG, NDJSON),
    )[dice(10)]
    return _post(operation.path, example_text(operation.name), {"Content-Type": given})


def _wrong_headers(dice: Dice) -> Hostile:
    operation = OPERATIONS[dice(len(OPERATIONS))]
    headers: Mapping[str, str] = (
        {"Accept": "image/png"},
        {"Accept": "*/*;q=0"},
        {"Accept": ";;;,"},
        {"Accept": "application/json;q=x"},
        {"Accept": "," * _LONG},
        {"Content-Encoding": "gzip"},
        {"Content-Encoding": "identity, br"},
        {"X-Request-Id": "\u00e9" * 300},
        {"Origin": "null", "Access-Control-Request-Method": "\u00e9"},
        {"Cookie": "a=b; " * 200},
        {"X-Forwarded-For": "', drop", "Forwarded": "for=;;"},
        {"Range": "bytes=9-1", "If-None-Match": "W/"},
    )[dice(12)]
    return _post(operation.path, malformed(operation, dice), headers)


def _wrong_path(dice: Dice) -> Hostile:
    path = (
        *("/", "//", "/v1", "/v1/", "/v2/fit-out", "/v1/fit-out/", "/V1/FIT-OUT", "/v1/batch"),
        *(
            "/v1/batch/none",
            "/v1/../v1/fit-out",
            "/v1/%2e%2e/x",
            "/%00",
            "/%ff%fe",
            "/v1/fit%2Dout%20",
        ),
        *("/v1/quick/none", "/v1/reference/none", "/v1/reference/..%2f..%2fx", "/" + "a" * _LONG),
        *("/docs/../x", "/metrics/x", "/health", "/openapi.yaml", "/.env", "/v1/fit-out;a=b"),
    )[dice(24)]
    return Hostile(("GET", "POST")[dice(2)], path)


def _wrong_method(dice: Dice) -> Hostile:
    operation = OPERATIONS[dice(len(OPERATIONS))]
    method = ("GET", "PUT", "PATCH", "DELETE", "TRACE", "PROPFIND", "HEAD", "REPORT")[dice(8)]
    return Hostile(method, operation.path)


def _wrong_query(dice: Dice) -> Hostile:
    operation = OPERATIONS[dice(len(OPERATIONS))]
    query = (
        *(
            "?view=none",
            "?x=1",
            "?view=&view=",
            "?%ff=%fe",
            "?" + "a=1&" * 500,
            "?view=%00",
            "?=",
            "?&&x",
        ),
    )[dice(8)]
    return Hostile(
        "POST", operation.path + query, malformed(operation, dice), {"Content-Type": JSON}
    )


def _wrong_question(dice: Dice) -> Hostile:
    """An unknown parameter, so that it is refused whatever the other one says."""
    question = QUESTIONS[dice(len(QUESTIONS))]
    text = str(VALUES[dice(len(VALUES))])[:500]
    name = ("format", "field", "v_oc_v", "length_m", "awg", "\u00e9", "")[dice(7)]
    return Hostile("GET", f"{question.path}?{quote(name)}={quote(text)}&no_such_thing=%E2%82")


def _oversized(dice: Dice) -> Hostile:
    """Above the limit that the tests and the load script set for a body."""
    operation = OPERATIONS[dice(len(OPERATIONS))]
    return _post(operation.path, b"[" + b"1," * 150_000 + b"1]")


def _post(path: str, body: bytes, headers: Mapping[str, str] | None = None) -> Hostile:
    return Hostile("POST", path, body, {"Content-Type": JSON} | dict(headers or {}))


_KINDS: tuple[Callable[[Dice], Hostile], ...] = (
    *[_broken_body] * 8,
    *(_broken_lines, _wrong_media, _wrong_headers, _wrong_path, _wrong_method, _wrong_query),
    _wrong_question,
)


def hostile(dice: Dice) -> Hostile:
    """Any of them; one in five hundred is too large."""
    return _oversized(dice) if not dice(500) else _KINDS[dice(len(_KINDS))](dice)


_HEAD = b"POST /v1/wire-sizing HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"

RAW: tuple[bytes, ...] = (
    b"\x00" * 100,
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(range(200)),
    b"GET\r\n\r\n",
    b"GET / HTTP/9.9\r\n\r\n",
    b"get / http/1.1\r\n\r\n",
    b"GET /\xff HTTP/1.1\r\nHost: x\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: x\r\nBad Header\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: x\r\n" + b"A: b\r\n" * 20_000,
    b"GET /" + b"a" * 200_000 + b" HTTP/1.1\r\n\r\n",
    b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    _HEAD + b"Content-Length: 500\r\n\r\n{",
    _HEAD + b"Content-Length: -1\r\n\r\n{}",
    _HEAD + b"Content-Length: 1e3\r\n\r\n{}",
    _HEAD + b"Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}x",
    _HEAD + b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n{}",
    _HEAD + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n",
    _HEAD + b"Transfer-Encoding: chunked\r\n\r\nffffffffffffffff\r\n{}\r\n0\r\n\r\n",
    _HEAD + b"Transfer-Encoding: chunked\r\n\r\n2\r\n{}",
    _HEAD + b"Transfer-Encoding: gzip\r\n\r\n{}",
    _HEAD + b"Expect: 100-continue\r\nContent-Length: 9\r\n\r\n",
    _HEAD + b"Upgrade: websocket\r\nConnection: Upgrade\r\nContent-Length: 2\r\n\r\n{}",
)
"""What is not quite HTTP, or stops in the middle; the connection is then closed by the sender."""
