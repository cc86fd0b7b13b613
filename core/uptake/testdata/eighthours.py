"""Times scipy's LSODA over eight hours, second by second.

Reads one case as JSON: capacity and flow of the lung and of each tissue, the
liver's place and its extraction, alveolar flow, inspired tension, the air's
pressure, whether the concentration effect counts, the seconds, and whether what
is inspired changes with each, and the tolerances that LSODA is told. Writes, for
each tolerance, the seconds that it took and by how much it is off at most, and
the tensions at the end of each second as they are: by the exponential of the
matrix, which is exact, since with what is inspired held the equations are linear,
as long as the blood does not give back more than is breathed.
"""

import base64
import json
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm

c = json.load(sys.stdin)
capacity, flow = np.array(c["capacity"]), np.array(c["flow"])
gets = np.ones(len(flow))
gets[c["liver"]] -= c["extraction"]
rate, alveolar, inspired, air = flow[1:] / capacity[1:], c["alveolar"], c["inspired"], c["air"]
n, lung, seconds = len(capacity), capacity[0], c["seconds"]


def equations(x):
    """The matrix with x inspired, and what that pushes."""
    part = 1 - x / air if c["concentration"] else 1
    m = np.zeros((n, n))
    m[0, 0] = -(alveolar + part * flow[1:].sum()) / lung
    m[0, 1:] = part * flow[1:] / lung
    m[1:, 0] = rate * gets[1:]
    m[np.arange(1, n), np.arange(1, n)] = -rate
    push = np.zeros(n)
    push[0] = alveolar * x / lung
    return m, push


def at(second):
    """What is inspired in a second."""
    return c["inspired"] * (1 + 0.5 * (second % 7) / 7) if c["changing"] else c["inspired"]


def exact():
    """The tensions at the end of each second."""
    steps = {}
    all, x = np.empty((seconds, n)), np.zeros(n)
    for k in range(seconds):
        i = at(k)
        if i not in steps:
            m, push = equations(i)
            whole = np.zeros((n + 1, n + 1))
            whole[:n, :n], whole[:n, n] = m, push
            whole = expm(whole / 60)
            steps[i] = whole[:n, :n], whole[:n, n]
        a, b = steps[i]
        x = a @ x + b
        assert flow[1:] @ (x[0] - x[1:]) > -alveolar * air
        all[k] = x
    return all


matrix, push = equations(inspired)


def linear(_, x):
    return matrix @ x + push


def concentrating(_, x):
    d = np.empty(n)
    d[1:] = rate * (gets[1:] * x[0] - x[1:])
    uptake = flow[1:] @ (x[0] - x[1:])
    taken = uptake / air
    expired = max(alveolar, -taken)
    d[0] = ((expired + taken) * inspired - expired * x[0] - uptake) / lung
    return d


def jacobian(_, x):
    return matrix


slope = concentrating if c["concentration"] else linear
how = dict(method="LSODA")
if not c["concentration"]:
    how["jac"] = jacobian


def held():
    """What is inspired stays: one run, whose polynomials give each second."""
    t = np.arange(seconds + 1) / 60.0
    return solve_ivp(slope, (0, t[-1]), np.zeros(n), t_eval=t, **how).y[:, 1:].T


def changing():
    """It is another each second, as from a bottle: each second is a run."""
    global inspired
    all, x = np.empty((seconds, n)), np.zeros(n)
    for k in range(seconds):
        inspired = at(k)
        push[0] = alveolar * inspired / lung
        all[k] = x = solve_ivp(slope, (0, 1 / 60), x, **how).y[:, -1]
    return all


def timed(tolerance, times):
    how.update(rtol=tolerance, atol=tolerance)
    best = float("inf")
    for _ in range(times):
        begun = time.perf_counter()
        run = changing() if c["changing"] else held()
        best = min(best, time.perf_counter() - begun)
    return {"seconds": best, "off": float(np.abs(run - is_).max() / c["inspired"])}


is_ = exact()
json.dump({
    "runs": [timed(x, 1 if c["changing"] else 9) for x in c["tolerances"]],
    "exact": base64.b64encode(np.ascontiguousarray(is_, dtype="<f8").tobytes()).decode(),
}, sys.stdout)
