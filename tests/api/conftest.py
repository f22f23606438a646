"""The fixtures of the API tests."""
from support import api, bench, fresh, server, server_on  # noqa: F401
