"""A measurement in a process of its own, so that nothing that was done before weighs on it."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
OURS = ("DATABASE_URL", "BROKER_URL")  # what a test run may have set is not for a bench


def told_alone(module: str, argument: str, home: Path, **settings: str) -> dict[str, Any]:
    """Run a module with one argument and a home of its own; return what it prints as JSON."""
    outside = {name: value for name, value in os.environ.items() if name not in OURS}
    own = {"CHANGEOVER_HOME": str(home), "DJANGO_SETTINGS_MODULE": "planner.site.settings"}
    ran = subprocess.run(
        [sys.executable, "-m", module, argument],
        env={**outside, **own, **settings},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    told: dict[str, Any] = json.loads(ran.stdout)
    return told
