"""Where the service offers what, beside its calculations."""

BATCH = "/v1/batch/{calculation}"
QUICK = "/v1/quick"
TABLES = "/v1/reference"
TABLE = "/v1/reference/{table}"
CODES = "/v1/codes"
SCHEMA = "/v1/schemas/{name}"
