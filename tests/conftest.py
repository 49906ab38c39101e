"""What holds for every test."""

from hypothesis import HealthCheck, settings

# A busy machine is no fault of the code: no example is judged by the clock.
settings.register_profile(
    "workshop",
    deadline=None,
    max_examples=40,  # every run draws others; a plain run has three minutes for all
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("workshop")
