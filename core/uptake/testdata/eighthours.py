"""Times scipy's LSODA over eight hours, second by second.

Reads one case as JSON: capacity and flow of the lung and of each tissue, the
liver's place and its extraction, alveolar flow, inspired tension, the air's
pressure, whether the concentration effect counts, the seconds, and whether what
is inspired changes with each. Writes the seconds that it took, and the tensions
at the end.
"""

import json
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp

c = json.load(sys.stdin)
capacity, flow = np.array(c["capacity"]), np.array(c["flow"])
gets = np.ones(len(flow))
gets[c["liver"]] -= c["extraction"]
rate, alveolar, inspired, air = flow[1:] / capacity[1:], c["alveolar"], c["inspired"], c["air"]
n, lung = len(capacity), capacity[0]

matrix = np.zeros((n, n))
matrix[0, 0] = -(alveolar + flow[1:].sum()) / lung
matrix[0, 1:] = flow[1:] / lung
matrix[1:, 0] = rate * gets[1:]
matrix[np.arange(1, n), np.arange(1, n)] = -rate
push = np.zeros(n)
push[0] = alveolar * inspired / lung


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
how = dict(method="LSODA", rtol=1e-9, atol=1e-9)
if not c["concentration"]:
    how["jac"] = jacobian


def held():
    """What is inspired stays: one run, whose polynomials give each second."""
    at = np.arange(c["seconds"] + 1) / 60.0
    return solve_ivp(slope, (0, at[-1]), np.zeros(n), t_eval=at, **how).y[:, -1]


def changing():
    """It is another each second, as from a bottle: each second is a run."""
    global inspired
    x = np.zeros(n)
    for k in range(c["seconds"]):
        inspired = c["inspired"] * (1 + 0.5 * (k % 7) / 7)
        push[0] = alveolar * inspired / lung
        x = solve_ivp(slope, (0, 1 / 60), x, **how).y[:, -1]
    return x


def timed(run, times):
    best, end = None, None
    for _ in range(times):
        begun = time.perf_counter()
        end = run()
        took = time.perf_counter() - begun
        best = took if best is None else min(best, took)
    return best, list(end)


seconds, end = timed(changing, 1) if c["changing"] else timed(held, 3)
json.dump({"seconds": seconds, "end": end}, sys.stdout)
