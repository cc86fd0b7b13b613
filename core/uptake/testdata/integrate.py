"""Integrates schedules of inhaled agents with scipy, for compare_slow_test.go.

Reads a list of cases as JSON from standard input and writes what is where after
each piece of each case. The equations are written here anew, from the
physiology and not from the Go sources: a lung, seven tissues in parallel, and
what was inspired, expired and metabolised. Linear cases are solved twice, by
LSODA and by the exponential of a matrix; with the concentration effect they are
solved by LSODA alone.
"""

import json
import sys

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm

LIVER = 3  # among the tissues: brain, heart, kidneys, liver, muscle, fat, vessel-poor
ATM = 760.0


class Case:
    def __init__(self, case, piece):
        self.lam = case["blood_gas"]
        self.sigma = np.array(case["tissue"])
        self.volume = np.array(case["volumes_l"])
        self.lung = case["gas_l"] + self.lam * case["blood_l"]
        self.flow = piece["output"] * np.array(case["flow_parts"])
        self.va = piece["alveolar"]
        self.pi = piece["inspired"]
        self.keeps = np.ones(7)
        self.keeps[LIVER] -= case["extraction"]
        self.air = case["air_mmhg"]
        self.concentration = case["concentration"] and self.va > 0

    def slope(self, _, y):
        lung, tissue = y[0], y[1:8]
        uptake = self.lam * np.dot(self.flow, lung - tissue)
        out = self.va
        into = self.va
        if self.concentration:
            out = max(self.va, -uptake / self.air)
            into = out + uptake / self.air
        d = np.empty(11)
        d[0] = (into * self.pi - out * lung - uptake) / self.lung
        d[1:8] = self.flow * (self.keeps * lung - tissue) / (self.volume * self.sigma)
        d[8] = into * self.pi / ATM
        d[9] = out * lung / ATM
        d[10] = self.lam * self.flow[LIVER] * (1 - self.keeps[LIVER]) * lung / ATM
        return d

    def lsoda(self, y, minutes):
        scale = max(self.pi, y[:8].max(), 1e-3)
        r = solve_ivp(self.slope, (0, minutes), y, method="LSODA", rtol=1e-12, atol=1e-13 * scale)
        if not r.success:
            raise RuntimeError(r.message)
        return r.y[:, -1]

    def exponential(self, y, minutes):
        # The columns of the linear system are its slopes at unit vectors; the
        # last column is what is inspired.
        a = np.zeros((12, 12))
        zero = self.slope(0, np.zeros(11))
        for k in range(11):
            unit = np.zeros(11)
            unit[k] = 1
            a[:11, k] = self.slope(0, unit) - zero
        a[:11, 11] = zero
        return (expm(a * minutes) @ np.append(y, 1))[:11]


def main():
    answers = []
    for case in json.load(sys.stdin):
        by_lsoda = np.zeros(11)
        by_exp = np.zeros(11)
        rows = []
        for piece in case["pieces"]:
            c = Case(case, piece)
            row = {}
            if piece["minutes"] > 0:
                by_lsoda = c.lsoda(by_lsoda, piece["minutes"])
                if not case["concentration"]:
                    by_exp = c.exponential(by_exp, piece["minutes"])
            row["lsoda"] = by_lsoda.tolist()
            if not case["concentration"]:
                row["expm"] = by_exp.tolist()
            rows.append(row)
        answers.append(rows)
    json.dump(answers, sys.stdout)


main()
