"""Makes captures by scipy's state-space simulation and works them out with numpy:
a computation that shares nothing with the package but the definitions.
Run by hand: python3 make.py; numpy 1.24, scipy 1.10."""
import json
import numpy as np
from scipy import signal

rng = np.random.default_rng(147)
out = []

def mode_states(v):
    edges = np.linspace(v.min(), v.max(), 201)
    n, _ = np.histogram(v, edges)
    lo, hi = np.argmax(n[:100]), 100 + np.argmax(n[100:])
    pick = lambda k: v[(v >= edges[max(0, k-1)]) & (v <= edges[min(200, k+2)])].mean()
    return pick(lo), pick(hi)

def start(name, num, den, volts, noise, rate, dur, pre, within):
    t = np.arange(-pre, dur, 1/rate)
    u = np.where(t >= 0, volts, 0.0)
    _, v, _ = signal.lsim((num, den), u, t - t[0])
    v = np.round(v + noise*rng.standard_normal(len(v)), 3)
    lo, hi = mode_states(v)
    a = hi - lo
    i90 = np.argmax(v >= lo + .9*a)
    i10 = np.nonzero(v[:i90] <= lo + .1*a)[0][-1]
    cross = lambda i, l: np.interp(l, [v[i], v[i+1]], [t[i], t[i+1]])
    t10, t90 = cross(i10, lo+.1*a), cross(i90-1, lo+.9*a)
    peak = i90 + np.argmax(v[i90:])
    outside = np.nonzero(np.abs(v - hi) > within)[0]
    tail = v[outside[-1]+1:]
    rise = v[i10:i90+1]
    out.append(dict(name=name, kind="start", within=within, times=np.round(t, 9).tolist(), values=v.tolist(), low=lo, high=hi,
        rise=t90-t10, over=v[peak]-hi, under=hi-v[peak:].min(), back=float((np.maximum.accumulate(rise)-rise).max()),
        settled=t[outside[-1]+1]-t10, ripple=np.ptp(tail), rms=tail.std()))

w = 2*np.pi*800
start("second order, ringing", [w*w], [1, 2*.35*w, w*w], 5.0, 0.004, 100e3, 6e-3, 1e-3, 0.1)
start("third order", [2*w**3], np.polymul([1, .9*w, w*w], [1, 2*w]), 3.3, 0.003, 80e3, 8e-3, 1e-3, 0.066)

def step(name, noise, rate, within):
    t = np.arange(-1e-3, 4e-3, 1/rate)
    i = np.where(t >= 0, 1.0, 0.0)            # A
    w0, z = 2*np.pi*2e3, .4
    # output impedance of a regulated supply: -s*L/(s^2/w0^2 + 2 z s/w0 + 1) - R
    _, dv, _ = signal.lsim(([-2.2e-5, 0], [1/w0**2, 2*z/w0, 1]), i, t - t[0])
    v = np.round(5.01 + dv - .012*i + noise*rng.standard_normal(len(t)), 3)
    n = len(v)
    before, after = v[:n//20].mean(), v[n-n//10:].mean()
    left = np.nonzero(np.abs(v-before) > within)[0][0]
    last = np.nonzero(np.abs(v-after) > within)[0][-1]
    rest = v[n//20:]
    out.append(dict(name=name, kind="step", within=within, times=np.round(t, 9).tolist(), values=v.tolist(), before=before, after=after,
        away=max(before-rest.min(), rest.max()-before), recovery=t[last+1]-t[left]))

step("load step of 1 A", 0.002, 100e3, 0.05)

t = np.arange(0, 2e-3, 5e-6)
v = np.round(5 + .015*signal.sawtooth(2*np.pi*20e3*t, .37) + .004*np.sin(2*np.pi*100*t) + .001*rng.standard_normal(len(t)), 4)
out.append(dict(name="ripple", kind="steady", within=0, times=t.tolist(), values=v.tolist(), mean=v.mean(), ripple=np.ptp(v), rms=v.std(), least=v.min()))

json.dump(out, open("captures.json", "w"), separators=(",", ":"))
