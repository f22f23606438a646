"""The tests of published values use the API tests' server and readers."""
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "api"))

from support import api, bench, fresh, server, server_on  # noqa: E402, F401
