"""Property tests repeat exactly: same examples on every machine, and no clock."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "engine",
    derandomize=True,
    deadline=None,
    database=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("engine")
