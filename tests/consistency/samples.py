"""Sets that many tests share."""

import numpy as np


def scattered(seed, *shape, sd=0.3):
    """Differences from the target, scattering normally. [mm]"""
    return np.random.default_rng(seed).normal(0, sd, shape)
