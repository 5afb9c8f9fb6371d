"""What the service is made of: bill of materials, licences, known vulnerabilities.

    python .ci/supply_chain.py ENVIRONMENT

ENVIRONMENT holds the service as installed, and nothing else. The bill of materials (CycloneDX,
validated as it is written) goes to `.ci/sbom.json`. A licence that is not on the list below and a
known vulnerability fail; where the vulnerability service cannot be asked, a warning says so.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
BIN = Path(sys.executable).parent
ALLOWED = (
    *(
        "MIT",
        "BSD",
        "Apache",
        "ISC",
        "PSF",
        "Python-2.0",
        "Python Software Foundation",
        "Zlib",
        "CC0",
        "Unlicense",
    ),
    "OFL-1.1",
    *("MPL-2.0", "Mozilla Public", "Lesser General", "LGPL"),
)
"""Permissive licences, and those that ask for openness of the library or font itself only."""
READ = {
    "odfpy": "Apache-2.0",
    "partd": "BSD-3-Clause",
    "protobuf": "BSD-3-Clause",
    "resvg_py": "MIT",
    "rich-click": "MIT",
}
"""Licences that packages state in a file, not in their metadata, or of which we choose one."""


def bill_of_materials(environment: Path) -> list[dict[str, Any]]:
    """Write it, and return its components."""
    target = HERE / "sbom.json"
    command = [BIN / "cyclonedx-py", "environment", "--pyproject", "pyproject.toml"]
    command += ["--output-reproducible", "--validate", "-o", target, environment / "bin" / "python"]
    subprocess.run(command, check=True)
    components: list[dict[str, Any]] = json.loads(target.read_text("utf-8"))["components"]
    return components


def licences(component: dict[str, Any]) -> list[str]:
    """What a component says of itself."""
    if component["name"] in READ:
        return [READ[component["name"]]]
    said: list[str] = []
    for entry in component.get("licenses", []):
        licence = entry.get("license", {})
        said.append(entry.get("expression") or licence.get("id") or licence.get("name", ""))
    return said


def refused(component: dict[str, Any]) -> bool:
    """Whether a component states no licence, or one that is not on the list."""
    said = licences(component)
    return not said or not all(any(word in one for word in ALLOWED) for one in said)


def vulnerabilities(environment: Path) -> tuple[list[str], int]:
    """Those known, and how many packages could not be asked about."""
    (packages,) = (environment / "lib").glob("python*/site-packages")
    command = [
        BIN / "pip-audit",
        "--path",
        packages,
        "--format",
        "json",
        "--progress-spinner",
        "off",
    ]
    run = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False)
    try:
        audited = json.loads(run.stdout)["dependencies"]
    except ValueError:
        return [], -1
    known = [
        f"{one['name']} {one['version']}: {found['id']}, mended in {found['fix_versions']}"
        for one in audited
        for found in one.get("vulns", [])
    ]
    return known, sum("skip_reason" in one for one in audited)


def main() -> int:
    """Run from the command line."""
    environment = Path(sys.argv[1])
    components = bill_of_materials(environment)
    print(f"{len(components)} components in {HERE.name}/sbom.json")
    bad = [f"licence of {one['name']}: {licences(one)}" for one in components if refused(one)]
    known, unasked = vulnerabilities(environment)
    if unasked:
        count = "any package" if unasked < 0 else f"{unasked} packages"
        print(f"WARNING: the vulnerability service could not be asked about {count}")
    print(*bad, *known, sep="\n")
    return int(bool(bad or known))


if __name__ == "__main__":
    sys.exit(main())
