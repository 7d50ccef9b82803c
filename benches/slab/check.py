"""Checks the simulator itself against closed solutions: `python3 benches/slab_bench.py --check -`.

Sources: Carslaw and Jaeger, Conduction of Heat in Solids (2nd ed. 1959), section 3.8 (a slab under
constant flux on one face, the other insulated); the mean delay of two first-order lags in series is
the sum of their time constants; the density of saturated water vapour at 25 degC, 23.07 g/m3
(IAPWS-95 saturation tables), to the 0.5 % that a Magnus formula and the ideal gas allow.
"""

import numpy as np

from . import beam, thermal

FLUX_W_M2 = 400.0


def quiet_slab(**changes):
    """A slab that loses nothing, under a plain flux on its face."""
    slab = thermal.draw_slab(np.random.default_rng(1), False, FLUX_W_M2)
    still = dict(convection=0.0, draught=0.0, emissivity=0.0, tray_contact=0.0, absorptivity=1.0,
                 touch=1.0, glare_degc=0.0, depth_m=0.0, start_degc=0.0)
    for name, value in {**still, **changes}.items():
        setattr(slab, name, value)
    return slab


def under_flux(slab, seconds, step_s=0.25):
    """The felt temperature and the reading at the end of every step from a cold start at 0 degC."""
    trays = thermal.Trays([slab], np.array([0]), np.zeros(1), np.array([0.5]), step_s)
    felt, read = [], []
    for _ in range(round(seconds / step_s)):
        read.append(trays.step(np.zeros(1), np.ones(1), np.zeros(1))[0])
        felt.append(trays.felt[0])
    return step_s * (1 + np.arange(len(felt))), np.array(felt), np.array(read)


def closed_solution(slab, depth_m, t_s):
    """Carslaw and Jaeger 3.8 (3), `depth_m` below the heated face."""
    length, k = slab.thickness_m, slab.conductivity
    spread, x = k / slab.heat_capacity, length - depth_m
    n = np.arange(1, 400)[:, None]
    waves = (-1.0) ** n / n**2 * np.exp(-spread * (n * np.pi / length) ** 2 * t_s) * np.cos(n * np.pi * x / length)
    bent = (3 * x**2 - length**2) / (6 * length**2) - 2 / np.pi**2 * waves.sum(axis=0)
    return FLUX_W_M2 * t_s / (slab.heat_capacity * length) + FLUX_W_M2 * length / k * bent


def deviations():
    """Each check's name, value, expected value and tolerance."""
    slab = quiet_slab()
    t, felt, read = under_flux(slab, 300.0)
    part = thermal.STRETCH ** np.arange(thermal.NODES)
    top_m = slab.thickness_m * part[0] / part.sum() / 2  # what lies above the first node's middle
    for at in (5.0, 20.0, 100.0, 300.0):
        i = round(at / 0.25) - 1
        want = closed_solution(slab, top_m, np.array([at]))[0]
        yield f"face under flux after {at:g} s / degC", felt[i], want, 0.02 * want
    slope = np.polyfit(t[-200:], felt[-200:], 1)[0]
    delay = (felt[-200:] - read[-200:]).mean() / slope
    yield "delay of the probe on a ramp / s", delay, slab.lag_s, 0.15
    yield "saturated vapour at 25 degC / (kg/m3)", thermal.vapour_kg_m3(25.0), 0.02307, 0.005 * 0.02307
    lamp = beam.draw_lamp(np.random.default_rng(2), [(10.0, 1e9)], "halogen")
    lamp.shares = (1.0, 0.0, 0.0)
    light, _, switch = beam.shine([lamp], 0.0, 0.25, 80)
    yield "light of a prompt lamp, of 10 s / s", 0.25 * light.sum(), 10.0, 1e-9
    yield "time switched on, of 10 s / s", 0.25 * switch.sum(), 10.0, 1e-9
    lamp.shares, lamp.on_s = (0.0, 1.0, 0.0), [(0.0, 100.0)]
    light, _, _ = beam.shine([lamp], 0.0, 0.25, 40000)
    glow = 0.25 * light[400:].sum()  # tau dx/dt = -x^4 sheds tau times the fall of x, here 0.95 at most
    yield "afterglow of a filament / s", glow, 0.95 * lamp.filament_s, 0.1 * lamp.filament_s


def run():
    """Prints every check; whether all held."""
    fine = True
    for name, value, want, tolerance in deviations():
        held = abs(value - want) <= tolerance
        fine = fine and held
        print(f"{'ok ' if held else 'OFF'} {name}: {value:.5g}, expected {want:.5g} within {tolerance:.2g}")
    return fine
