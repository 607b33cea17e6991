"""Least integrated absolute error of PI loops by a plain grid, for `tests/tuning_optimiser.rs`.

Plants of unit gain and unit dead time, lag from 0.5 dead times to integrating; sampled with H, the law as the crate computes it
(integrator moved after the output), unit load step at the plant's input. Nothing here is shared with the program: the plant is
sampled in closed form, margins come from a dense frequency grid and stability from the response itself.

    python least_error.py > least_error.csv        needs numpy; about five minutes
"""
import sys
import numpy as np

H = 0.02
END = 160.0
LIMITS = (1.4, 1.6, 2.0)
LAGS = (0.5, 1.0, 2.0, 5.0, 10.0, np.inf)


def plant(lag):
    """x[k+1] = f x[k] + g u[k - d]; the dead time is whole samples."""
    if np.isinf(lag):
        return 1.0, H
    f = np.exp(-H / lag)
    return f, 1.0 - f


def sensitivity(lag, kp, ti):
    f, g = plant(lag)
    d = round(1.0 / H)
    w = np.concatenate([np.geomspace(1e-3, 0.2, 200), np.linspace(0.2, 12.0, 2400)])
    z = np.exp(1j * w * H)
    p = g / (z - f) * z ** -d
    out = np.empty_like(kp)
    for at in range(0, kp.size, 400):
        k, t = kp[at:at + 400, None], ti[at:at + 400, None]
        loop = k * (1.0 + H / t / (z - 1.0)) * p
        out[at:at + 400] = 1.0 / np.abs(1.0 + loop).min(axis=1)
    return out


def error(lag, kp, ti):
    """Integrated absolute error; infinite where it does not die out."""
    f, g = plant(lag)
    d = round(1.0 / H)
    x, i = np.zeros_like(kp), np.zeros_like(kp)
    sent = [np.zeros_like(kp) for _ in range(d)]
    total, tail = np.zeros_like(kp), np.zeros_like(kp)
    steps = int(END / H)
    for k in range(steps):
        total += np.abs(x)
        if k > 0.9 * steps:
            tail += np.abs(x)
        u = -kp * x + i
        i = i - kp * H / ti * x
        arrived = sent[k % d]
        sent[k % d] = u
        x = f * x + g * (arrived + 1.0)
    total = np.where((tail < 1e-3 * total) & np.isfinite(total), total, np.inf)
    return total * H


def best(lag, limit):
    low = np.log([0.05, 0.3])
    high = np.log([2.0 * (1.0 if np.isinf(lag) else 1.0 + lag), 60.0])
    found = None
    for level in range(4):
        kp, ti = (np.exp(a.ravel()) for a in np.meshgrid(np.linspace(low[0], high[0], 41), np.linspace(low[1], high[1], 41)))
        if np.isinf(lag) and level == 0:
            kp = kp / 2.0
        s = sensitivity(lag, kp, ti)
        ok = s <= limit
        e = np.full_like(kp, np.inf)
        with np.errstate(over="ignore", invalid="ignore"):
            e[ok] = error(lag, kp[ok], ti[ok])
        at = int(np.argmin(e))
        if found is None or e[at] < found[0]:
            found = (e[at], kp[at], ti[at], s[at])
        span = (high - low) * 2.5 / 40
        centre = np.log([found[1], found[2]])
        low, high = centre - span, centre + span
    return found


print("lag,sensitivity_max,absolute_error,kc,ti")
for lag in LAGS:
    for limit in LIMITS:
        e, kp, ti, s = best(lag, limit)
        print(f"{lag:g},{limit},{e:.4f},{kp:.4f},{ti:.3f}", flush=True)
        print(lag, limit, e, kp, ti, s, file=sys.stderr)
