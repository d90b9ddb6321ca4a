# Writes butterworth.csv: a noisy signal with a step, and the same through
# SciPy's second-order Butterworth low-pass, forwards and backwards, for a
# cut-off of 10 Hz at 120 Hz after both passes: each is designed for the
# frequency whose warped value is tan(pi 10/120) / 0.802.
#
#   python3 butterworth.py > butterworth.csv      (SciPy 1.10.1, BSD-3-Clause)
import numpy as np
from scipy.signal import butter, filtfilt

rng = np.random.default_rng(1)
t = np.arange(600) / 120
x = np.sin(2 * np.pi * 1.3 * t) + 0.3 * np.sin(2 * np.pi * 7 * t) + (t > 2.5) + 0.05 * rng.standard_normal(t.size)
c = (2 ** (1 / 2) - 1) ** (1 / 4)
b, a = butter(2, 120 / np.pi * np.arctan(np.tan(np.pi * 10 / 120) / c), fs=120)
y = filtfilt(b, a, x)
print("# b", *("%.12g" % v for v in b), "a", *("%.12g" % v for v in a))
print("x,y")
for v, w in zip(x, y):
    print("%.9g,%.9g" % (v, w))
