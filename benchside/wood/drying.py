"""When a piece will be dry: from its weights, or before any weighing by diffusion.

From weights: the moisture goes toward balance with the air as
``E + (M0 - E) exp(-k t)``. The last stretch of a stick that dries at its surface is of this form
whatever came before [@crank-1975, ch. 5], so only the last six weighings below fibre saturation
are used where there are enough. Before any weighing, a round stick by Crank's series.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import exp, inf, isfinite, log, pi, sqrt
from typing import Literal, overload

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq, least_squares, minimize_scalar
from scipy.special import jn_zeros, stdtrit

from benchside.errors import NotUnderstood, OutOfRange
from benchside.wood.checked import Floats, checked, plain
from benchside.wood.moisture import checked_moisture, moisture_percent
from benchside.wood.species import FIBER_SATURATION

Verdict = Literal["dry", "not yet", "too damp", "stopped", "rising"]

FEWEST = 3  # weighings for a forecast
CONFIDENCE = 0.95
AIR_PERCENT = 1.0  # judgement: how far wood's balance may lie from the formula's
LAW_PERCENT = 0.3  # judgement: how far a stick may lie from the law of approach
NEAR_PERCENT = 0.5  # judgement: within this of the target is dry
STILL_PERCENT_A_DAY = 0.1  # judgement: slower than this is standing still
STILL_DAYS = 2.0  # judgement: and for so long
LEAST_ROOM_PERCENT = 0.05  # judgement: nearer to its balance than this, a day means nothing
MOST_USED = 6  # judgement: weighings; older ones bend away from the law
KNOWN_BEFORE = 4  # judgement: weighings by which the scatter counts as known beforehand
LONGEST_DAYS = 3650.0
SECONDS_A_DAY = 86_400.0

_GRID = 48
_LOG_RATES = (log(1e-4), log(10.0))  # a day; slower and faster than any stick
_SERIES = 60
_SHORT = 0.01  # below this the short-time expansion is exact to 1e-7


@dataclass(frozen=True, slots=True)
class Forecast:
    """What the weights of one piece say. Days are counted from the same day as those given.

    ``moisture_now`` is that of the last weighing. ``day`` is when the target is met, most likely,
    ``day_low`` and ``day_high`` its 95 % limits. ``day_high`` is infinite where the weights so far
    cannot rule out that it never is; all three are where the air is too damp for it or the weight
    stands still, and all three are the first dry weighing where it is dry. ``start_mc`` and
    ``rate_per_day`` are those of the law fitted from ``since_day`` on, toward ``balance_mc``.
    """

    verdict: Verdict
    moisture_now: float
    target_mc: float
    day: float
    day_low: float
    day_high: float
    start_mc: float
    rate_per_day: float
    balance_mc: float
    since_day: float

    def moisture_on(self, day: float) -> float:
        """The moisture on that day by the fitted law. [%]"""
        gone = exp(-self.rate_per_day * (day - self.since_day))
        return self.balance_mc + (self.start_mc - self.balance_mc) * gone


def forecast(
    days: Sequence[float],
    mass_g: Sequence[float],
    ovendry_g: float,
    emc_percent: float,
    target_mc: float,
    *,
    step_g: float = 0.1,
) -> Forecast:
    """The day a piece reaches its target, with honest limits, from three weighings or more.

    [days, g, g, %, %; g] ``emc_percent`` is the moisture in balance with the air of the room
    (`moisture.emc_percent`), ``step_g`` what the scales round to. Least squares by scipy in three
    unknowns: the day, the rate and the balance, the last held near ``emc_percent`` as if it had
    been measured to 1 %, because the formula knows neither species nor the way wood came there.
    The limits are by profile likelihood with Student's t. The error of a weighing is the scales'
    step [@gum-2008] and 0.3 % for the law itself, as if known from four weighings before, and what
    the residuals say; so three points that happen to lie on a curve promise no more than that.

    Raises `NotUnderstood` for fewer than three weighings, and `OutOfRange` for days that do not
    rise, weights that rise, and figures that cannot be.

    >>> told = forecast([0, 1, 2, 3], [140.0, 125.3, 117.6, 113.5], 100.0, 6.0, 8.0)
    >>> told.verdict, round(told.day, 1)
    ('not yet', 5.9)
    """
    day, moisture = _weighings(days, mass_g, ovendry_g)
    air = float(checked_moisture(emc_percent, "emc_percent"))
    target = float(checked_moisture(target_mc, "target_mc"))
    step = 100 * _more_than_0(step_g, "step_g", "The scales' step") / ovendry_g
    if len(day) < FEWEST:
        raise NotUnderstood(
            "Three weighings are the fewest that tell a day.",
            field="mass_g",
            hint="Weigh again tomorrow.",
        )
    _refuse_rise(moisture, mass_g, step)
    used = _last_stretch(moisture)
    verdict = _verdict(day, moisture, air, target, step)
    since = float(day[used][0])
    if verdict != "not yet":
        met = _first_dry(day, moisture, target) if verdict == "dry" else inf
        return _known(verdict, met, day[used], moisture[used], air, target)
    scatter = sqrt(step**2 / 12 + LAW_PERCENT**2)
    law = _Law(day[used] - since, moisture[used], air, target, scatter)
    met, log_rate = law.best()
    low, high = law.limits(met, log_rate)
    rate, balance = exp(log_rate), target - law.room(met, log_rate)
    return Forecast(
        verdict=verdict,
        moisture_now=float(moisture[-1]),
        target_mc=target,
        day=met + since if met < LONGEST_DAYS else inf,
        day_low=low + since,
        day_high=high + since,
        start_mc=balance + (target - balance) * exp(min(rate * met, 50.0)),
        rate_per_day=rate,
        balance_mc=balance,
        since_day=since,
    )


def standing(
    days: Sequence[float],
    mass_g: Sequence[float],
    ovendry_g: float,
    emc_percent: float,
    target_mc: float,
    *,
    step_g: float = 0.1,
) -> tuple[Verdict, float]:
    """The plain verdict and the moisture now, also from one weighing. [as `forecast`]

    ``rising``: it has taken moisture up since the weighing before. ``stopped``: its weight stands
    still, and it is not dry. ``too damp``: the air cannot bring it to the target. Raises
    `OutOfRange` for days that do not rise and figures that cannot be.
    """
    day, moisture = _weighings(days, mass_g, ovendry_g)
    step = 100 * _more_than_0(step_g, "step_g", "The scales' step") / ovendry_g
    air = float(checked_moisture(emc_percent, "emc_percent"))
    target = float(checked_moisture(target_mc, "target_mc"))
    if len(moisture) > 1 and moisture[-1] - moisture[-2] > _noise(step):
        return "rising", float(moisture[-1])
    return _verdict(day, moisture, air, target, step), float(moisture[-1])


@overload
def unaccomplished(fourier: float) -> float: ...
@overload
def unaccomplished(fourier: npt.ArrayLike) -> float | Floats: ...
def unaccomplished(fourier: npt.ArrayLike) -> float | Floats:
    """The share of the moisture change still to come in a round stick. [-]

    The mean over the section when the surface is in balance with the air at once:
    ``sum 4 / a_n^2 exp(-a_n^2 Fo)`` over the roots of J0, with ``Fo = D t / r^2``
    [@crank-1975, ch. 5]; at short times its expansion ``1 - 4 sqrt(Fo / pi) + Fo + …``. The ends
    are taken as far off. Raises `OutOfRange` below 0.

    >>> round(unaccomplished(0.1), 6)
    0.394176
    """
    fo = checked(fourier, "fourier", "The time", 0.0, inf, hint="Not before the start.")
    squared = _squared_roots()
    late = np.sum(4 / squared * np.exp(-squared * fo[..., None]), axis=-1)
    early = 1 - 4 * np.sqrt(fo / pi) + fo + fo**1.5 / (3 * sqrt(pi))
    return plain(np.where(fo < _SHORT, early, late))


def fourier_at(share: float) -> float:
    """The inverse of `unaccomplished`: the time at which that share is still to come. [-]

    Raises `OutOfRange` for a share outside 0 to 1, or of 0, which is never reached.

    >>> round(fourier_at(0.5), 5)
    0.06306
    """
    if not (isfinite(share) and 0 < share <= 1):
        raise OutOfRange("A share still to come is more than 0 and at most 1.", field="share")
    longest = -log(share / 4) + 1.0
    return float(brentq(lambda fo: unaccomplished(float(fo)) - share, 0.0, longest, xtol=1e-14))


def estimated_days(
    diameter_mm: float,
    from_mc: float,
    to_mc: float,
    emc_percent: float,
    diffusion_m2_s: float,
) -> float:
    """An estimate of the days a round stick takes, before any weighing. [mm, %, %, %, m²/s]

    By `unaccomplished` from the moisture now to balance with the air; infinite where the air is
    too damp. No printed diffusion coefficient of a hardwood was found: it is the maker's own, or
    learned with `diffusion_from`. Raises `OutOfRange` for figures that cannot be.

    >>> round(estimated_days(20.0, 50.0, 10.0, 10 - 40 / 9, 1e-10), 2)
    3.87
    """
    radius_m = _more_than_0(diameter_mm, "diameter_mm", "The diameter") / 2000
    speed = _more_than_0(diffusion_m2_s, "diffusion_m2_s", "The diffusion coefficient")
    start = float(checked_moisture(from_mc, "from_mc"))
    target = float(checked_moisture(to_mc, "to_mc"))
    air = float(checked_moisture(emc_percent, "emc_percent"))
    if start <= target:
        return 0.0
    if air >= target:
        return inf
    return fourier_at((target - air) / (start - air)) * radius_m**2 / speed / SECONDS_A_DAY


def diffusion_from(
    diameter_mm: float, days: Sequence[float], moisture: Sequence[float], emc_percent: float
) -> float:
    """The diffusion coefficient by which a round stick has dried so far. [mm, days, %, %; m²/s]

    The first weighing is its start; least squares on the share still to come over all the others.
    Two weighings are enough. Raises `NotUnderstood` for fewer, or where it has not dried.

    >>> from math import isclose
    >>> day = 0.1 * 0.01**2 / 1e-10 / 86400
    >>> isclose(diffusion_from(20.0, [0, day], [50.0, 6 + 44 * unaccomplished(0.1)], 6.0), 1e-10)
    True
    """
    radius_m = _more_than_0(diameter_mm, "diameter_mm", "The diameter") / 2000
    air = float(checked_moisture(emc_percent, "emc_percent"))
    held, time = checked_moisture(moisture, "moisture"), np.asarray(days, dtype=np.float64)
    if len(held) < 2 or held[-1] >= held[0] or held[0] <= air:
        raise NotUnderstood(
            "It has not dried yet, so nothing is learned of how fast it dries.",
            field="mass_g",
            hint="Weigh again tomorrow.",
        )
    share = np.clip((held - air) / (held[0] - air), 1e-6, 1.0)
    seconds = (time - time[0]) * SECONDS_A_DAY
    first = log(fourier_at(float(share[-1])) * radius_m**2 / seconds[-1])
    found = least_squares(
        lambda unknown: unaccomplished(seconds * exp(unknown[0]) / radius_m**2) - share, [first]
    )
    return exp(float(found.x[0]))


@dataclass(frozen=True, slots=True)
class _Law:
    """The law of approach through weighings: the day ``met`` of the target, and the rate.

    ``target + room (exp(rate (met - day)) - 1)``, where the room from the target down to the
    balance is linear, so that it is known for any day and rate. Residuals are in units of
    ``scatter``; one more holds the balance near the air's.
    """

    day: Floats
    moisture: Floats
    air: float
    target: float
    scatter: float

    def best(self) -> tuple[float, float]:
        """The day and the logarithm of the rate, by least squares."""
        days = self.day[-1] + np.geomspace(0.02, LONGEST_DAYS, _GRID)
        rates = np.linspace(*_LOG_RATES, _GRID)
        off, _ = self._residuals(days[:, None], rates[None, :])
        day, rate = np.unravel_index(np.argmin(np.sum(off**2, axis=-1)), (_GRID, _GRID))
        start = [log(float(days[day] - self.day[-1])), float(rates[rate])]
        found = least_squares(
            lambda x: self._residuals(self._met(x[0]), np.asarray(x[1]))[0], start
        )
        return float(self._met(found.x[0])), float(found.x[1])

    def room(self, met: float, log_rate: float) -> float:
        """How far the balance lies under the target, by the weighings and the air. [%]"""
        return float(self._residuals(np.asarray(met), np.asarray(log_rate))[1])

    def limits(self, met: float, log_rate: float) -> tuple[float, float]:
        """The days at which the residuals are too large to be chance."""
        off, _ = self._residuals(np.asarray(met), np.asarray(log_rate))
        least, freedom = float(off @ off), len(self.day) - 2 + KNOWN_BEFORE
        spread = (least + KNOWN_BEFORE) / freedom
        allowed = least + spread * float(stdtrit(freedom, (1 + CONFIDENCE) / 2)) ** 2
        soonest, latest = log(1e-3), log(LONGEST_DAYS)
        best = log(max(met - float(self.day[-1]), 2e-3))

        def over(reach: float) -> float:
            return self._profile(float(self._met(reach))) - allowed

        low = soonest if over(soonest) <= 0 else float(brentq(over, soonest, best, xtol=1e-4))
        if over(latest) <= 0:
            return float(self._met(low)), inf
        high = float(brentq(over, best, latest, xtol=1e-4))
        return float(self._met(low)), float(self._met(high))

    def _met(self, reach: float) -> Floats:
        """The day that lies so far after the last weighing, by its logarithm."""
        return np.asarray(self.day[-1] + exp(min(reach, 20.0)))

    def _profile(self, met: float) -> float:
        """The least sum of squares of any rate that meets the target on that day."""
        rates = np.linspace(*_LOG_RATES, _GRID)
        day = np.asarray(met)
        cost = np.sum(self._residuals(day, rates)[0] ** 2, axis=-1)
        near = int(np.argmin(cost))
        ends = rates[max(near - 1, 0)], rates[min(near + 1, _GRID - 1)]
        found = minimize_scalar(
            lambda rate: np.sum(self._residuals(day, np.asarray(rate))[0] ** 2),
            bounds=ends,
            method="bounded",
        )
        return min(float(found.fun), float(cost[near]))

    def _residuals(self, met: Floats, log_rate: Floats) -> tuple[Floats, Floats]:
        """Along a last axis, and the room from target to balance. Days and rates broadcast."""
        power = np.exp(log_rate)[..., None] * (met[..., None] - self.day)
        shape = np.expm1(np.clip(power, None, 60.0)) / self.scatter
        above = (self.moisture - self.target) / self.scatter
        air = (self.target - self.air) / AIR_PERCENT
        pull = np.sum(shape * above, axis=-1) + air / AIR_PERCENT
        room = np.maximum(pull / (np.sum(shape**2, axis=-1) + AIR_PERCENT**-2), LEAST_ROOM_PERCENT)
        off = room[..., None] * shape - above
        held = room / AIR_PERCENT - air
        return np.concatenate([off, held[..., None]], axis=-1), room


def _known(
    verdict: Verdict, met: float, day: Floats, moisture: Floats, air: float, target: float
) -> Forecast:
    """No forecast is needed, or none is possible: the law only to draw it."""
    start, since = float(moisture[0]), float(day[0])
    balance = min(air, float(moisture[-1]))
    gone = np.clip((moisture - balance) / max(start - balance, 1e-9), 1e-6, 1.0)
    rate = max(float(-(np.log(gone) @ (day - since)) / ((day - since) @ (day - since))), 0.0)
    now = float(moisture[-1])
    return Forecast(verdict, now, target, met, met, met, start, rate, balance, since)


def _first_dry(day: Floats, moisture: Floats, target: float) -> float:
    return float(day[int(np.argmax(moisture <= target + NEAR_PERCENT))])


def _verdict(day: Floats, moisture: Floats, air: float, target: float, step: float) -> Verdict:
    now = float(moisture[-1])
    if now <= target + NEAR_PERCENT:
        return "dry"
    if air >= target:
        return "too damp"
    return "stopped" if _still(day, moisture, step) else "not yet"


def _still(day: Floats, moisture: Floats, step: float) -> bool:
    """Whether the weight has stood still over the last two days or more, three weighings."""
    before = np.flatnonzero(day <= day[-1] - STILL_DAYS)
    if len(day) < FEWEST or not before.size:
        return False
    first = before[-1]
    span = float(day[-1] - day[first])
    return abs(float(moisture[-1] - moisture[first])) <= max(STILL_PERCENT_A_DAY * span, step)


def _last_stretch(moisture: Floats) -> slice:
    """The last weighings below fibre saturation, if they are enough; else the last of all."""
    below = int(np.argmax(moisture <= FIBER_SATURATION))
    enough = moisture[-1] <= FIBER_SATURATION and len(moisture) - below >= FEWEST
    return slice(max(below if enough else 0, len(moisture) - MOST_USED), None)


def _weighings(
    days: Sequence[float], mass_g: Sequence[float], ovendry_g: float
) -> tuple[Floats, Floats]:
    day = checked(days, "days", "A day", -LONGEST_DAYS, LONGEST_DAYS, hint="In order of time.")
    moisture = np.atleast_1d(moisture_percent(mass_g, ovendry_g))
    if day.ndim != 1 or day.shape != moisture.shape or not day.size:
        raise NotUnderstood("Each weighing has a day and a weight.", field="days")
    if np.any(np.diff(day) <= 0):
        raise OutOfRange("Weighings follow one another in time.", field="days")
    return day, moisture


def _refuse_rise(moisture: Floats, mass_g: Sequence[float], step: float) -> None:
    up = np.flatnonzero(np.diff(moisture) > _noise(step))
    if up.size:
        i = int(up[0])
        raise OutOfRange(
            f"The weight rises from {mass_g[i]:g} to {mass_g[i + 1]:g} g.",
            field="mass_g",
            hint="Drying wood does not. Weigh it again; if it did lie in damper air, "
            "count from the day it was put back to dry.",
        )


def _noise(step: float) -> float:
    """A rise of moisture that weighing alone may give: two steps of the scales, or a tenth."""
    return max(2 * step, 0.1)


def _more_than_0(value: float, field: str, what: str) -> float:
    if not (isfinite(value) and value > 0):
        raise OutOfRange(f"{what} is more than 0.", field=field, hint="Such as 15.9.")
    return float(value)


@cache
def _squared_roots() -> Floats:
    roots: Floats = jn_zeros(0, _SERIES)
    return roots**2
