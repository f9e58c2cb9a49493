"""How many examples the laws are tried on: a few dozen, or as many as LAW_EXAMPLES in the environment says."""

import os

from hypothesis import HealthCheck, settings

LAW = settings(
    max_examples=int(os.environ.get("LAW_EXAMPLES", "40")),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
