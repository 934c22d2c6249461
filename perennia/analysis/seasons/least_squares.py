"""Curves of growth by least squares: one core for every form, and the two forms of a season's crop."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Literal, get_args

import attrs
import numpy as np
from scipy import optimize, special

from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError

Form = Literal["logistic", "gompertz"]
Model = Callable[..., Floats]
LEAST_POINTS = 5
TOO_FEW, NO_FIT, NO_PLATEAU = "too few points", "did not converge", "no plateau reached"
_FAR = 1.5
"""An asymptote of over so many times the last value lies outside the data."""
_OFF = 0.01
"""A curve within this share of its asymptote from 0 or from it is off its rise, and tells nothing of it."""


@attrs.frozen(eq=False)
class LeastSquares:
    """A curve through points: parameters and their standard errors, the standard deviation of the residuals on points
    less parameters, and their sum of squares."""

    parameters: Floats
    errors: Floats
    residual_sd: float
    residual_squares: float


@attrs.frozen(kw_only=True)
class Fit:
    """One fitted curve of a crop. asymptote: what it runs up to; midpoint: where half of that is reached; scale: how
    long it takes from half to 73 % of that (logistic) or to 77 % (Gompertz), in the unit of x; each with its standard
    error (_se). residual_sd: on n - 3 degrees of freedom. n: points. note: why there is no fit, or
    what it cannot tell; None for a sound one. Figures are None where nothing was fitted."""

    form: str
    n: int
    asymptote: float | None = None
    midpoint: float | None = None
    scale: float | None = None
    asymptote_se: float | None = None
    midpoint_se: float | None = None
    scale_se: float | None = None
    residual_sd: float | None = None
    note: str | None = None


def logistic(x: Floats, asymptote: float, midpoint: float, scale: float) -> Floats:
    """asymptote / (1 + exp((midpoint - x) / scale)), as in Pinheiro and Bates (2000), Mixed-Effects Models in S and
    S-PLUS, appendix C.7 (page from memory)."""
    return np.asarray(asymptote * special.expit((x - midpoint) / scale))


def gompertz(x: Floats, asymptote: float, midpoint: float, scale: float) -> Floats:
    """asymptote * exp(-ln 2 * exp(-(x - midpoint) / scale)): the curve of Gompertz (1825), its displacement written so
    that midpoint is where half of the asymptote is reached, as in the logistic."""
    # beyond 700 a float overflows, and the curve is 0 long before
    falling = np.exp(np.minimum(-(x - midpoint) / scale, 700.0))
    return np.asarray(asymptote * np.exp(-math.log(2) * falling))


MODELS: Mapping[str, Model] = {"logistic": logistic, "gompertz": gompertz}


def choose_form(form: object) -> str:
    """The form of that name. Raises AnalysisError naming the choices."""
    if not isinstance(form, str) or form not in MODELS:
        raise AnalysisError(f"unknown form {form!r}: choose one of {', '.join(get_args(Form))}")
    return form


def least_squares(x: Floats, y: Floats, model: Model, start: Sequence[float]) -> LeastSquares | None:
    """The model's parameters by least squares (scipy.optimize.curve_fit, Levenberg and Marquardt) from a start.

    None where no minimum is found, or the points do not determine the parameters there.
    """
    with warnings.catch_warnings():
        # an undetermined covariance is told by its infinite variances
        warnings.simplefilter("ignore", optimize.OptimizeWarning)
        try:
            with np.errstate(all="ignore"):
                found, covariance = optimize.curve_fit(model, x, y, p0=np.asarray(start, dtype=np.float64), maxfev=5000)
        except (RuntimeError, ValueError):
            # curve_fit says so when it gives up, or meets what is not finite
            return None
    if not (np.isfinite(found).all() and np.isfinite(covariance).all() and (np.diag(covariance) >= 0).all()):
        return None
    squares = float(((y - model(x, *found)) ** 2).sum())
    return LeastSquares(
        np.asarray(found), np.sqrt(np.diag(covariance)), math.sqrt(squares / max(1, len(x) - len(found))), squares
    )  # fmt: skip


def fit(x: Sequence[float] | Floats, y: Sequence[float] | Floats, form: Form = "logistic") -> Fit:
    """A rising curve through points, such as the cumulative crop at the days of pickings and looks.

    Points are taken as independent with one variance. Started from the data: the last value, the x of half of it, and
    the x between a quarter and three quarters of it. note is "too few points" below 5, "did not converge" (also where
    the standard error of the midpoint or the scale exceeds the span of x, or fewer than two points lie on the rise,
    between 1 and 99 % of the asymptote), and "no plateau reached" where the asymptote is over 1.5 times the largest
    value or its standard error exceeds it (own rules). Raises AnalysisError for an unknown form, and for points that
    are not numbers or not as many x as y.
    """
    model = MODELS[choose_form(form)]
    days, crop = _points(x, y)
    if len(days) < LEAST_POINTS:
        return Fit(form=form, n=len(days), note=TOO_FEW)
    found = least_squares(days, crop, model, _start(days, crop))
    if found is None or found.parameters[2] <= 0 or found.parameters[0] <= 0:
        return Fit(form=form, n=len(days), note=NO_FIT)
    asymptote, midpoint, scale = found.parameters.tolist()
    errors = found.errors.tolist()
    rise = model(days, asymptote, midpoint, scale) / asymptote
    if max(errors[1:]) > np.ptp(days) or ((rise > _OFF) & (rise < 1 - _OFF)).sum() < 2:
        # points such as one step leave the middle and the scale open, be it that a curve runs through all of them
        return Fit(form=form, n=len(days), note=NO_FIT)
    far = asymptote > _FAR * crop.max() or errors[0] > asymptote
    return Fit(
        form=form, n=len(days), asymptote=asymptote, midpoint=midpoint, scale=scale, asymptote_se=errors[0],
        midpoint_se=errors[1], scale_se=errors[2], residual_sd=found.residual_sd, note=NO_PLATEAU if far else None,
    )  # fmt: skip


def _points(x: Sequence[float] | Floats, y: Sequence[float] | Floats) -> tuple[Floats, Floats]:
    try:
        days, crop = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise AnalysisError("x and y are to be lists of numbers") from error
    if days.ndim != 1 or days.shape != crop.shape or not (np.isfinite(days).all() and np.isfinite(crop).all()):
        raise AnalysisError("x and y are to be lists of as many numbers each, none of them missing")
    order = np.argsort(days, kind="stable")
    return days[order], crop[order]


def _start(days: Floats, crop: Floats) -> tuple[float, float, float]:
    """Where to begin: a last value a little raised, its middle, and the scale of a logistic with these quartiles."""
    top = float(crop.max())
    quarter, half, three = (float(days[np.argmax(crop >= share * top)]) for share in (0.25, 0.5, 0.75))
    span = float(days[-1] - days[0]) or 1.0
    # a logistic takes 2 ln 3 scales from a quarter to three quarters
    return 1.02 * top, half, max((three - quarter) / (2 * math.log(3)), span / 50)
