"""A bench and a fork that share no line with the program: an air fork swept at constant speed, simulated
in plain Python and written as CSV the way other tools do.

The physics is that of the textbook: ideal gas, first law for three chambers, Newton's law of cooling with a
constant thermal time, an orifice between the air chambers that is open in a band, Coulomb friction that
turns round over a bristle length. Every number of the forks is invented.
"""

import math
import random

R, GAMMA, ATMOSPHERE, ROOM = 287.05, 1.4, 101325.0, 293.15
CV = R / (GAMMA - 1.0)
CP = GAMMA * CV
PSI = 6894.757293168362


class Fork:
    """SI. The defaults are a fork called Alder."""

    name = "Alder 150"
    travel = 0.150
    piston, shaft, stanchion, rod = 0.0300, 0.0080, 0.0340, 0.0095
    positive, negative, lower = 180e-6, 26e-6, 360e-6
    transfer, band = 0.0045, 0.0010
    preload = 6.0
    friction, friction_per_pa, bristle = 6.0, 1.3e-5, 0.00025
    tau_positive, tau_negative, tau_lower = 3.5, 2.2, 0.4
    spacer = 6.0e-6

    @staticmethod
    def area(diameter):
        return math.pi / 4.0 * diameter * diameter


class Sweep:
    """Rows (time_s, travel_m, force_N) of a fork at one setting, from rest at full extension."""

    def __init__(self, fork, psi, spacers, seed, speed=0.004, to=0.137, cycles=4, noise=1.0):
        self.fork, self.speed, self.to, self.cycles = fork, speed, to, cycles
        self.random = random.Random(seed)
        self.noise = noise
        self.ap = fork.area(fork.piston)
        self.an = self.ap - fork.area(fork.shaft)
        self.al = 2.0 * fork.area(fork.stanchion) - fork.area(fork.shaft) - fork.area(fork.rod)
        self.vp0 = fork.positive - spacers * fork.spacer
        p0 = psi * PSI + ATMOSPHERE
        # Slow cycles leave the chambers equal where the band was left towards full extension.
        low = max(0.0, fork.transfer - 0.5 * fork.band)
        joined = p0 * self.vp0 / (self.vp0 - self.ap * low)
        self.mp = p0 * self.vp0 / (R * ROOM)
        self.mn = joined * (fork.negative + self.an * low) / (R * ROOM)
        self.ml = ATMOSPHERE * fork.lower / (R * ROOM)
        self.tp = self.tn = self.tl = ROOM
        self.x = 0.0
        self.f = 0.0

    def volumes(self):
        return (self.vp0 - self.ap * self.x, self.fork.negative + self.an * self.x,
                self.fork.lower - self.al * self.x)

    def step(self, dt, dx):
        fork = self.fork
        vp, vn, vl = self.volumes()
        self.x += dx
        vp1, vn1, vl1 = self.volumes()
        self.tp += -(GAMMA - 1.0) * self.tp * (vp1 - vp) / vp + (ROOM - self.tp) * dt / fork.tau_positive
        self.tn += -(GAMMA - 1.0) * self.tn * (vn1 - vn) / vn + (ROOM - self.tn) * dt / fork.tau_negative
        self.tl += -(GAMMA - 1.0) * self.tl * (vl1 - vl) / vl + (ROOM - self.tl) * dt / fork.tau_lower
        if abs(self.x - fork.transfer) < 0.5 * fork.band:
            self.pass_port(dt, vp1, vn1)
        pp, pn, pl = self.pressures()
        kinetic = fork.friction + fork.friction_per_pa * (pp - ATMOSPHERE)
        if dx != 0.0:
            goal = math.copysign(kinetic, dx)
            self.f = goal - (goal - self.f) * math.exp(-abs(dx) / fork.bristle)

    def pass_port(self, dt, vp, vn):
        """An orifice of about a square millimetre; the difference fades within some 30 ms."""
        up, un = CV * self.mp * self.tp, CV * self.mn * self.tn
        flow = (1.0 - math.exp(-dt / 0.03)) * (up * vn - un * vp) / (vp + vn)
        mass = flow / (CP * (self.tp if flow > 0.0 else self.tn))
        self.mp, self.mn = self.mp - mass, self.mn + mass
        self.tp, self.tn = (up - flow) / (CV * self.mp), (un + flow) / (CV * self.mn)

    def pressures(self):
        vp, vn, vl = self.volumes()
        return self.mp * R * self.tp / vp, self.mn * R * self.tn / vn, self.ml * R * self.tl / vl

    def force(self):
        pp, pn, pl = self.pressures()
        return ((pp - ATMOSPHERE) * self.ap - (pn - ATMOSPHERE) * self.an + (pl - ATMOSPHERE) * self.al
                + self.fork.preload + self.f)

    def rows(self, rate_hz=40.0, inner=8):
        dt = 1.0 / rate_hz / inner
        time = 0.0
        out = [(0.0, 0.0, self.force() + self.random.gauss(0.0, self.noise))]
        for stroke in range(2 * self.cycles):
            direction = 1.0 if stroke % 2 == 0 else -1.0
            left = self.to
            while left > 1e-12:
                for _ in range(inner):
                    dx = min(self.speed * dt, left)
                    if dx <= 0.0:
                        break
                    self.step(dx / self.speed, direction * dx)
                    time += dx / self.speed
                    left -= dx
                out.append((time, self.x, self.force() + self.random.gauss(0.0, self.noise)))
        return out


def friction_mid_travel(fork, psi):
    """Of the slow spring at half travel, without spacers."""
    sweep = Sweep(fork, psi, 0, seed=0)
    high = fork.transfer + 0.5 * fork.band
    total = sweep.mp + sweep.mn
    vp = sweep.vp0 - sweep.ap * high
    vn = fork.negative + sweep.an * high
    mass = total * vp / (vp + vn)
    pressure = mass * R * ROOM / (sweep.vp0 - sweep.ap * 0.5 * fork.travel)
    return fork.friction + fork.friction_per_pa * (pressure - ATMOSPHERE)


def settled_midline(fork, psi, spacers, speed=0.004, to=0.137):
    """(travel_m, mean force of the two strokes) of a cycle that repeats itself, every millimetre."""
    sweep = Sweep(fork, psi, spacers, seed=0, noise=0.0, speed=speed, to=to, cycles=16)
    last = sweep.rows()
    start = max(i for i, row in enumerate(last) if row[0] <= 30 * to / speed + 1e-9)
    up = [(x, f) for t, x, f in last[start:] if t <= 31 * to / speed + 1e-9]
    down = [(x, f) for t, x, f in last[start:] if t >= 31 * to / speed - 1e-9]
    down.reverse()

    def at(curve, x):
        for (x0, f0), (x1, f1) in zip(curve, curve[1:]):
            if x0 <= x <= x1:
                return f0 if x1 == x0 else f0 + (f1 - f0) * (x - x0) / (x1 - x0)
        return curve[-1][1]

    grid = [0.001 * i for i in range(1, int(to * 1000.0))]
    return [(x, 0.5 * (at(up, x) + at(down, x))) for x in grid]
