"""What the API tests use to run the program serves here too."""
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "api"))

from support import server_on  # noqa: E402,F401

LONG = os.environ.get("KW_FAULT_LONG") == "1"
