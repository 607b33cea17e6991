"""Margins of the demo designs by another program, for `tests/margins_independent.rs`.

From the design files' own numbers: the plant's equations written down again, its rest found by scipy's root finder, linearised by
complex steps, sampled by scipy, the dead time a whole number of samples or a first-order remainder by splitting the hold, margins
by python-control's own frequency-response object on a dense grid. Nothing is shared with the program but the design files.

    python margins.py DESIGNS_DIR > margins.csv        needs numpy, scipy, control
"""
import sys
import tomllib
from pathlib import Path

import control
import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq, fsolve


def slopes(p, x, u, load, ambient, lag):
    """Rates of change of (body, node, sensor, fan speed); complex numbers may pass."""
    body, node, sensor, speed = x
    if "mass_joule_per_kelvin" in p:
        inner = (p["still_w_per_kelvin"] + p["blown_w_per_kelvin"] * speed ** 0.8) * (body - node)
        outer = (p["leak_w_per_kelvin"] + p["ventilation_w_per_kelvin"] * speed) * (node - ambient)
        return np.array([
            (load - inner) / p["mass_joule_per_kelvin"],
            (inner - outer) / p["air_joule_per_kelvin"],
            (node - sensor) / lag,
            (u - speed) / p.get("fan_lag_s", 1.5),
        ])
    inner = p["coupling_w_per_kelvin"] * (body - node)
    outer = p["loss_w_per_kelvin"] * (node - ambient)
    return np.array([
        (p["heater_w"] * u - inner) / p["heater_joule_per_kelvin"],
        (inner + load - outer) / p["contents_joule_per_kelvin"],
        (node - sensor) / lag,
        (0.0 - speed) / 1.0,
    ])


def sampled(a, b, t):
    n = len(b)
    m = np.zeros((n + 1, n + 1))
    m[:n, :n], m[:n, n] = a, b
    e = expm(m * t)
    return e[:n, :n], e[:n, n]


def points(d):
    s, p = d["scenario"], d["plant"]
    load, ambient = p.get("load_w", 0.0), p.get("ambient_celsius", 22.0)
    want = d["loop"]["set_point_celsius"]
    found = [(load, ambient, want)]
    for event in s.get("event", []):
        load = event.get("load_w", load)
        ambient = event.get("ambient_celsius", ambient)
        want = event.get("set_point_celsius", want)
        if (load, ambient, want) not in found:
            found.append((load, ambient, want))
    return found


def figures(d, load, ambient, want):
    p, lp, lag = d["plant"], d["loop"], d["sensor"].get("lag_s", 8.0)
    cooling = lp["action"] == "cooling"
    low = d["fan"]["floor_percent"] / 100 if cooling else 0.0
    high = 1.0 if cooling else d["heater"].get("limit_percent", 100) / 100

    def rest(u):
        start = [want + 10, want, want, max(u, 0.05) if cooling else 0.0]
        return fsolve(lambda x: slopes(p, x, u, load, ambient, lag), start, xtol=1e-13)

    ends = [rest(u)[1] - want for u in (low, high)]
    u = brentq(lambda u: rest(u)[1] - want, low, high, xtol=1e-14) if ends[0] * ends[1] < 0 else (low, high)[int(abs(ends[1]) < abs(ends[0]))]
    x = rest(u)
    step = 1e-20
    a = np.array([slopes(p, x + step * 1j * np.eye(4)[k], u, load, ambient, lag).imag / step for k in range(4)]).T
    b = slopes(p, x.astype(complex), u + step * 1j, load, ambient, lag).imag / step
    if not cooling:
        a, b = a[:3, :3], b[:3]
    c = np.zeros(len(b))
    c[2] = 1.0
    h = lp["period_s"]
    dead = p.get("dead_time_s", 0.0)
    adc = d["adc"]
    if adc.get("burst_samples", 1) > 1:
        dead += 0.5 * (adc["burst_samples"] - 1) / adc["burst_hertz"]
    if not cooling:
        dead += max(0.0, u * d["heater"].get("window_s", 2.0) - 0.5 * h)
    whole = int(np.floor(dead / h + 1e-9))
    part = max(0.0, dead - whole * h)
    f1, g1 = sampled(a, b, part)
    f0, g0 = sampled(a, b, h - part)
    f, older = f0 @ f1, f0 @ g1
    k = 2 ** int(np.log2(lp.get("derivative_filter_samples", 8)))
    kp, ki, kd = (lp.get(n, 0.0) / 100 for n in ("kp_percent_per_kelvin", "ki_percent_per_kelvin_second", "kd_percent_second_per_kelvin"))
    w = np.geomspace(1e-6, np.pi / h * (1 - 1e-9), 12_000)
    z = np.exp(1j * w * h)
    lam, v = np.linalg.eig(f)
    cv = c @ v
    gain = np.zeros_like(z)
    right0, right1 = np.linalg.solve(v, g0.astype(complex)), np.linalg.solve(v, older.astype(complex))
    for i in range(len(lam)):
        gain = gain + cv[i] * (right0[i] + right1[i] / z) / (z - lam[i])
    law = kp + ki * h / (z - 1) + kd / (h * k) * (z - 1) / (z - 1 + 1 / k)
    loop = (-1.0 if cooling else 1.0) * law * gain * z ** -whole
    gm, pm, sm, wpc, wgc, _ = control.stability_margins(control.FRD(loop, w, smooth=True), returnall=True)
    unit = np.flatnonzero(np.diff(np.sign(np.abs(loop) - 1)))
    wc = [np.interp(0, [np.abs(loop[i + 1]) - 1, np.abs(loop[i]) - 1], [w[i + 1], w[i]]) for i in unit]
    limit = [(1 / np.abs(loop[i]), w[i]) for i in np.flatnonzero(np.diff(np.sign(loop.imag))) if loop[i].real < 0]
    above = [m for m in limit if m[0] > 1]
    stable = all(m[0] > 1 for m in limit)
    g = min(above) if stable and above else min(limit) if limit else (np.inf, np.nan)
    phase = min(((np.angle(np.interp(x0, w, loop.real) + 1j * np.interp(x0, w, loop.imag)) + 2 * np.pi) % (2 * np.pi) - np.pi for x0 in wc), default=np.inf)
    ms = np.max(1 / np.abs(1 + loop)) if stable else np.inf
    # python-control's own answers, where it has one
    if stable and len(gm) and np.isfinite(g[0]):
        assert abs(20 * np.log10(min(m for m in gm if m > 1) / g[0])) < 0.02, (gm, g)
    if stable and len(pm):
        assert abs(min(pm, key=abs) - np.degrees(phase)) < 0.1, (pm, np.degrees(phase))
    if stable:
        assert abs(np.min(sm) * ms - 1) < 0.005, (sm, ms)
    return u, 20 * np.log10(g[0]), np.degrees(phase), ms, 2 * np.pi / g[1], stable


print("design,load_w,ambient_celsius,set_point_celsius,duty_percent,gain_margin_db,phase_margin_degrees,sensitivity_max,limit_period_s")
for path in sorted(Path(sys.argv[1]).glob("*.toml")):
    d = tomllib.loads(path.read_text())
    for at in points(d):
        u, gm, pm, ms, period, stable = figures(d, *at)
        print(f"{path.stem},{at[0]:g},{at[1]:g},{at[2]:g},{100 * u:.4f},{gm:.4f},{pm:.4f},{ms:.5f},{period:.3f}")
