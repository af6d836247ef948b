"""Lets the modules of this folder import ``published_check``, which the importlib mode of pytest does not do."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
