"""What holds for every test: hypothesis takes the time it needs (a loaded machine is no failure)."""

from hypothesis import HealthCheck, settings

settings.register_profile("suite", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("suite")
